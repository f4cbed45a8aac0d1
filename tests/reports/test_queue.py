"""The queue is worst first, and always in the same order."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from kb.presentation.render import render_json, render_text
from kb.presentation.report_model import Entries

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from kb.services.session import Session

HEAD = "id,at,question,area,outcome\n"


def note(name: str, questions: str, written: str, area: str = "nephrology") -> dict[str, str]:
    """One note file."""
    text = (
        f"---\nid: {name}\ntitle: Note {name}\narea: {area}\nquestions: [{questions}]\n"
        f"written: {written}\n---\nIts text.\n"
    )
    return {f"{area}/{name}.md": text}


def log(*lines: str) -> dict[str, str]:
    """A log of `day question outcome`."""
    rows = []
    for number, line in enumerate(lines):
        day, question, outcome = line.split()
        rows.append(f"{number:016x},{day}T12:00:00+00:00,{question},,{outcome}\n")
    return {"log/attempts-test.csv": HEAD + "".join(rows)}


FILES = {
    **note("failing", "north:101", "2027-01-10"),
    **note("holding", "north:102", "2027-01-10"),
    **note("untested", "north:103", "2027-01-10"),
    **log(
        "2027-01-05 north:101 wrong",
        "2027-01-05 north:102 wrong",
        "2027-01-05 north:103 wrong",
        "2027-01-05 north:104 wrong",
        "2027-01-20 north:101 wrong",
        "2027-01-20 north:102 right",
        "2027-01-25 north:102 right",
    ),
}
"""One note of each state, and a miss that no note answers."""


def shown(
    open_base: Callable[[Mapping[str, str]], Session], files: Mapping[str, str], **given: object
) -> dict[str, Any]:
    """The report as JSON readers see it."""
    session = open_base(files)
    content: dict[str, Any] = json.loads(render_json(session.report("queue", given), session.today))
    return content


def test_each_note_has_its_state(session: Callable[..., Session]) -> None:
    """Missed since written is failing, right since is holding, not tried since is untested."""
    files = FILES
    for state in ("failing", "holding", "untested"):
        rows = shown(session, files, state=state)["notes"]
        assert [row["id"] for row in rows] == [state]


def test_what_holds_is_left_alone(session: Callable[..., Session]) -> None:
    """A note whose question came right twice since is not in the list of things to do."""
    assert "holding" not in [row["id"] for row in shown(session, FILES)["notes"]]


def test_a_failing_note_is_to_be_rewritten(session: Callable[..., Session]) -> None:
    """Its one thing to do follows from its state."""
    rows = {row["id"]: row["advice"] for row in shown(session, FILES)["notes"]}
    assert rows == {"failing": "rewrite", "untested": "re-attempt"}


def test_failing_notes_come_before_those_not_tried(session: Callable[..., Session]) -> None:
    """Each list has its own heading, in these words only."""
    report = session(FILES).report("queue")
    titles = [block.title for block in report.blocks if isinstance(block, Entries) and block.title]
    assert titles[-2:] == [
        "Failing: missed again since you wrote them",
        "Untested: not tried since you wrote them",
    ]


def test_a_note_right_four_of_the_last_four_is_not_first(session: Callable[..., Session]) -> None:
    """Missed once since it was written and not yet right twice in a row on that question, but right
    on the others: it fails still, and the note not tried since comes before it.
    """
    files = {
        **note("failing", "north:101, north:102, north:105", "2027-01-10"),
        **note("untested", "north:103", "2027-01-10"),
        **log(
            "2027-01-05 north:101 wrong",
            "2027-01-05 north:103 wrong",
            "2027-01-20 north:101 wrong",
            "2027-01-21 north:102 right",
            "2027-01-22 north:105 right",
            "2027-01-23 north:101 right",
            "2027-01-24 north:102 right",
        ),
    }
    rows = shown(session, files)["notes"]
    assert [(row["id"], row["state"]) for row in rows] == [
        ("untested", "untested"),
        ("failing", "failing"),
    ]


def test_numbers_go_on_from_page_to_page(session: Callable[..., Session]) -> None:
    """The note on the second page of one is number 2, whichever list it stands in."""
    opened = session(FILES)
    pages = [opened.report("queue", {"limit": 1, "page": page}) for page in (1, 2)]
    firsts = [
        block.first
        for page in pages
        for block in page.blocks
        if isinstance(block, Entries) and block.key == "notes"
    ]
    assert firsts == [1, 2]
    heads = [line for page in pages for line in render_text(page).splitlines() if "Note " in line]
    assert [head.split()[0] for head in heads] == ["1", "2"]


def test_an_open_miss_is_told(session: Callable[..., Session]) -> None:
    """A missed question without a note is counted, with what it is worth."""
    assert any("1 miss has no note yet" in text for text in shown(session, FILES)["texts"])


def test_unrelated_notes_do_not_change_the_order(session: Callable[..., Session]) -> None:
    """A note of another area without questions leaves the order of the others as it was."""
    before = [row["id"] for row in shown(session, FILES)["notes"]]
    more = {
        **FILES,
        "neurology/other.md": "---\nid: other\ntitle: Other\narea: neurology\n---\nX.\n",
    }
    after = [row["id"] for row in shown(session, more)["notes"] if row["id"] != "other"]
    assert after == before


def test_an_empty_base_says_how_to_begin(session: Callable[..., Session]) -> None:
    """Without notes or answers there is no list, but what comes first."""
    content = shown(session, {})
    assert "notes" not in content
    assert "missbook log block" in str(content["texts"])
