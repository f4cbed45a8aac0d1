"""`gaps` lists what the base lacks, each with what to do about it."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from kb.core.errors import QueryError
from kb.presentation.render import render_json, render_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session

EXAM = """\
exam: The Quill Examination
date: 2027-05-11
blueprint:
  - {area: cardiology, name: Cardiology, items: 50, topics: [murmurs, arrhythmia]}
  - {area: nephrology, name: Nephrology, items: 50}
"""
LIKE = "Euvolaemic, urine concentrated, urine sodium high, adrenal and thyroid normal, no diuretic."


def note(area: str, concepts: str, body: str, questions: str = "") -> str:
    """A note's file."""
    return f"---\narea: {area}\nconcepts: [{concepts}]\nquestions: [{questions}]\n---\n{body}\n"


FILES = {
    "exam.yaml": EXAM,
    "a.md": note("cardiology", "SIADH, haemolysis", LIKE, "north:1, north:2"),
    "b.md": note("cardiology", "SIADH, hemolysis", LIKE + " Not dry."),
    "c.md": note("cardiology", "murmurs", "Louder on standing, softer on squatting."),
    "d.md": note("nephrology", "stones", "Colic, blood, and nothing else " * 90),
    "log/attempts-test.csv": (
        "id,at,question,area,outcome\nid01,2027-02-01T10:00:00+00:00,north:1,cardiology,wrong\n"
    ),
}


def content(start: Session, **given: object) -> dict[str, object]:
    """The report as its JSON reader sees it."""
    report = start.report("gaps", given)
    found: dict[str, object] = json.loads(render_json(report, start.today))
    return found


def shown(start: Session, **given: object) -> str:
    """The report as text, on one line."""
    return " ".join(render_text(start.report("gaps", given)).split())


def test_twins_come_with_the_command_that_merges_them(session: Callable[..., Session]) -> None:
    """The note that answers more questions is the one to keep."""
    rows = content(session(FILES))["twins"]
    assert [row["command"] for row in rows] == ["missbook merge a b"]  # type: ignore[attr-defined]


def test_topics_without_a_note_are_named(session: Callable[..., Session]) -> None:
    """They stand under their area."""
    rows = content(session(FILES))["topics_without_note"]
    assert [(row["area"], row["topics"]) for row in rows] == [("cardiology", ["arrhythmia"])]  # type: ignore[attr-defined]


def test_spellings_are_named(session: Callable[..., Session]) -> None:
    """Both spellings of one concept stand together."""
    assert "haemolysis (1 note), hemolysis (1 note)" in shown(session(FILES))


def test_an_area_not_met_is_named(session: Callable[..., Session]) -> None:
    """It costs marks that no list of misses can show."""
    assert "No question met yet, by questions in the exam: Nephrology 50." in shown(session(FILES))


def test_lone_and_long_notes_are_listed(session: Callable[..., Session]) -> None:
    """What nothing reaches, and what is too long, by name."""
    found = content(session(FILES))
    assert [row["note"] for row in found["long"]] == ["d"]  # type: ignore[attr-defined]
    assert "c" in [row["note"] for row in found["unreached"]]  # type: ignore[attr-defined]


def test_one_area_shows_its_topics(session: Callable[..., Session]) -> None:
    """With --area the table of its topics is there, and other areas are not."""
    found = content(session(FILES), area="cardiology")
    assert [row["topic"] for row in found["topics"]] == ["murmurs", "arrhythmia"]  # type: ignore[attr-defined]
    assert [row["area"] for row in found["areas"]] == ["cardiology"]  # type: ignore[attr-defined]


def test_a_longer_list_leads_to_its_next_page(session: Callable[..., Session]) -> None:
    """After the first page only the lists that go on are shown."""
    files = FILES | {f"x{n}.md": note("cardiology", f"c{n}", f"Word{n} alone.") for n in range(3)}
    assert "More: missbook gaps --limit 1 --page 2" in shown(session(files), limit=1)
    assert "Too long to reread" not in shown(session(files), limit=1, page=2)


def test_an_empty_base_is_no_error(session: Callable[..., Session]) -> None:
    """With nothing logged or written nothing is praised or found missing: what comes first."""
    text = shown(session({"exam.yaml": EXAM}))
    assert "missbook log block" in text
    assert "No two notes say the same." not in text
    assert "Syllabus topics without a note" not in text


def test_a_limit_below_one_is_refused(session: Callable[..., Session]) -> None:
    """No list of nothing."""
    with pytest.raises(QueryError):
        session(FILES).report("gaps", {"limit": 0})
