"""Notes that say the same are found."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from kb.knowledge.near_duplicates import find_twins

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session


def note(concepts: str = "", questions: str = "", body: str = "Text.") -> str:
    """A note's file."""
    return f"---\narea: cardiology\nconcepts: [{concepts}]\nquestions: [{questions}]\n---\n{body}\n"


FILES = {
    "a.md": note("SIADH", "north:1"),
    "b.md": note("SIADH", "north:2, north:3"),
    "c.md": note("other"),
}


def test_two_very_alike_notes_are_twins_once(session: Callable[..., Session]) -> None:
    """A pair comes once, and the note that answers more questions is the one to keep."""
    near = {"a.md": (("b.md", 0.8),), "b.md": (("a.md", 0.8),)}
    found = find_twins(session(FILES).base, near)
    assert [(row.keep, row.other, row.likeness_fraction) for row in found] == [("b", "a", 0.8)]


@pytest.mark.parametrize(
    ("other", "likeness", "count"), [("b", 0.5, 1), ("b", 0.49, 0), ("c", 0.5, 0), ("c", 0.6, 1)]
)
def test_the_same_first_concept_lowers_the_bar(
    session: Callable[..., Session], other: str, likeness: float, count: int
) -> None:
    """From .6, or from .5 when both are first about the same."""
    found = find_twins(session(FILES).base, {"a.md": ((f"{other}.md", likeness),)})
    assert len(found) == count


def test_notes_that_link_to_each_other_were_kept_on_purpose(
    session: Callable[..., Session],
) -> None:
    """Two notes that link both ways are not called twins."""
    files = {"a.md": note(body="See [b](b.md)."), "b.md": note(body="See [a](a.md).")}
    assert find_twins(session(files).base, {"a.md": (("b.md", 0.9),)}) == ()


def test_a_note_that_is_gone_is_no_twin(session: Callable[..., Session]) -> None:
    """A path that the base does not have is passed over."""
    assert find_twins(session(FILES).base, {"a.md": (("gone.md", 0.9),)}) == ()
