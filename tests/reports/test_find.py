from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from kb.presentation.render import render_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session

LOG = "id,at,question,area,outcome\n" + "\n".join(
    f"a{n},2027-02-{day:02}T12:00:00+00:00,{question},,{outcome}"
    for n, (day, question, outcome) in enumerate(
        [(1, "north:101", "wrong"), (10, "north:101", "wrong"), (11, "north:1", "right")]
    )
)


def note(title: str, body: str, front: str = "") -> str:
    """A note with front matter."""
    return f"---\ntitle: {title}\n{front}---\n{body}\n"


FILES = {
    "nephrology/k.md": note(
        "Raised potassium",
        "Tall T waves, then a wide QRS. Also seen with oedema.",
        "area: nephrology\nconcepts: [hyperkalaemia]\nquestions: [north:101]\n"
        "written: 2027-02-05\n",
    ),
    "cardiology/af.md": note(
        "Atrial fibrillation",
        "No P waves. " + "word " * 900,
        "area: cardiology\nquestions: [north:1]\nwritten: 2027-02-01\n",
    ),
    "plain.md": "Waves of nausea without front matter.\n",
    "log/attempts-a.csv": LOG + "\n",
}


@pytest.fixture
def opened(session: Callable[..., Session]) -> Session:
    """A session on the notes above."""
    return session(FILES)


def heads(opened: Session, **options: object) -> list[str]:
    """Titles found, best first."""
    report = opened.report("find", options)
    entries = next(block for block in report.blocks if hasattr(block, "entries"))
    return [entry.head for entry in entries.entries]


@pytest.mark.parametrize(
    ("options", "expected"),
    [
        ({}, {"Raised potassium", "Atrial fibrillation", "plain"}),
        ({"area": "cardiology"}, {"Atrial fibrillation"}),
        ({"state": "failing"}, {"Raised potassium"}),
        ({"state": "holding"}, {"Atrial fibrillation"}),
        ({"concept": "Hyperkalaemia"}, {"Raised potassium"}),
        ({"source": "north"}, {"Raised potassium", "Atrial fibrillation"}),
        ({"minutes": 2}, {"Raised potassium", "plain"}),
    ],
)
def test_filters_leave_what_fits(
    opened: Session, options: dict[str, object], expected: set[str]
) -> None:
    """Each filter keeps the notes it names and no others."""
    assert set(heads(opened, words="waves", **options)) == expected


def test_since_keeps_what_was_written_later(opened: Session) -> None:
    """A day keeps notes written on it or after."""
    found = heads(opened, words="waves", since="2027-02-05", area="nephrology")
    assert found == ["Raised potassium"]
    assert heads(opened, words="waves", since="2027-02-06", area="nephrology") == []


def test_an_entry_tells_area_state_evidence_and_passage(opened: Session) -> None:
    """What is shown of a note lets the doctor judge it before opening it."""
    report = opened.report("find", {"words": "edema"})
    text = render_text(report)
    assert "Also searched: oedema." in text
    assert "Nephrology" in text
    assert "failing" in text
    entry = next(block for block in report.blocks if hasattr(block, "entries")).entries[0]
    assert ("oedema", True) in entry.passage
    assert entry.lines


def test_what_is_searched_instead_of_a_slip_is_said(opened: Session) -> None:
    """The slip is named with the word that was searched."""
    text = render_text(opened.report("find", {"words": "fibrilaltion"}))
    assert "No note has 'fibrilaltion': searched fibrillation." in text
    assert "Atrial fibrillation" in text


def test_nothing_found_names_the_words_that_no_note_has(opened: Session) -> None:
    """What only shares the other words comes below, as such."""
    report = opened.report("find", {"words": "Whipple waves"})
    text = render_text(report)
    assert "No note has: Whipple." in text
    assert text.index("Only share the other words") < text.index("Raised potassium")
    assert heads(opened, words="Whipple waves") == []


def test_a_note_dated_later_is_said_to_be_so(session: Callable[..., Session]) -> None:
    """On a day before it was written it is not shown, nor said not to exist."""
    files = {"a.md": note("Tall waves", "Potassium.", "written: 2027-02-05\n"), "b.md": "Else.\n"}
    opened = session(files, on=date(2027, 2, 1))
    assert "Dated later, so not shown: Tall waves (5 Feb 2027)." in render_text(
        opened.report("find", {"words": "waves"})
    )


def test_answers_come_ten_a_page(session: Callable[..., Session]) -> None:
    """The second page goes on where the first ends."""
    opened = session({f"n{n:02}.md": f"# Note {n}\n\nasthma\n" for n in range(12)})
    first, second = (heads(opened, words="asthma", page=page) for page in (1, 2))
    assert (len(first), len(second)) == (10, 2)
    assert not set(first) & set(second)
