"""What is looked for on a day in the past: only notes that were written by then."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from kb.services.answer_logging import question_reference
from kb.services.comparison import compare
from kb.services.note_drafting import cover

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session


def note(title: str, written: str) -> str:
    """A note on gout."""
    return f"---\ntitle: {title}\narea: cardiology\nwritten: {written}\n---\nGout and crystals.\n"


LOG = "id,at,question,area,outcome,remark\na1,2027-01-03T12:00:00+00:00,north:1,,wrong,gout\n"
FILES = {
    "a.md": note("Early", "2027-01-02"),
    **{f"b{n}.md": note(f"Late {n}", "2027-02-02") for n in range(12)},
    "log/attempts-a.csv": LOG,
}


@pytest.fixture
def past(session: Callable[..., Session]) -> Session:
    """The base as it stood when one of its notes was written."""
    return session(FILES, on=date(2027, 1, 10))


def test_a_search_finds_what_was_written_by_then(past: Session) -> None:
    """As the report of it does."""
    assert [hit.note for hit in past.search("gout").hits] == ["a"]


def test_what_is_alike_was_written_by_then(past: Session) -> None:
    """Also where all the nearest were written later."""
    assert [hit.note for hit in past.similar("gout crystals", limit=2)] == ["a"]


def test_a_miss_is_covered_and_a_pair_compared_by_notes_of_then(past: Session) -> None:
    """Neither names a note that is not there yet."""
    assert [hit.note for hit in cover(past, question_reference(past, "north:1"))] == ["a"]
    assert [one.id for one in compare(past, "gout", "pseudogout").first] == ["a"]
