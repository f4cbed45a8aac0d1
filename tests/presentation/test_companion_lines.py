"""A failing note brings its confused neighbour and what it leans on into queue, brief and find."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from kb.presentation.render import render_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session


def note(concepts: str, questions: str = "", body: str = "Text.") -> str:
    """A note's file."""
    head = f"area: nephrology\nconcepts: [{concepts}]\nquestions: [{questions}]"
    return f"---\n{head}\nwritten: 2027-01-10\n---\n{body}\n"


FILES = {
    "x/gout.md": note("gout", "north:101", "Crystals. Builds on [urate](urate.md)."),
    "x/urate.md": note("urate", "north:103"),
    "x/pseudogout.md": note("pseudogout"),
    "log/attempts-test.csv": (
        "id,at,question,outcome,remark\n"
        "id01,2027-02-01T10:00:00+00:00,north:101,wrong,gout vs pseudogout\n"
        "id02,2027-02-02T10:00:00+00:00,north:103,wrong,\n"
        "id03,2027-02-03T10:00:00+00:00,north:103,right,\n"
        "id04,2027-02-04T10:00:00+00:00,north:103,right,\n"
    ),
}
SAID = (
    "Read with it: pseudogout (gout and pseudogout were mixed up once);"
    " urate (this note builds on it)"
)


@pytest.mark.parametrize(
    ("report", "given"),
    [("queue", {}), ("brief", {"words": "nephrology"}), ("find", {"words": "crystals"})],
)
def test_a_failing_note_says_what_to_read_with_it(
    session: Callable[..., Session], report: str, given: dict[str, str]
) -> None:
    """The line stands beneath the note, in all three."""
    text = render_text(session(FILES).report(report, given))
    assert SAID in " ".join(text.split())


def test_a_note_that_holds_brings_nothing(session: Callable[..., Session]) -> None:
    """Without a failing note there is no such line."""
    log = FILES["log/attempts-test.csv"].replace("north:101,wrong", "north:101,right")
    text = render_text(session(FILES | {"log/attempts-test.csv": log}).report("queue"))
    assert "Read with it" not in text


def test_a_brief_of_words_takes_in_what_the_found_note_leans_on(
    session: Callable[..., Session],
) -> None:
    """A companion with marks at risk may be read in the same minutes."""
    report = session(FILES).report("brief", {"words": "crystals"})
    text = render_text(report)
    assert text.startswith("crystals: 2 notes")
    assert "\n2  urate" in text
