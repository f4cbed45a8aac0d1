"""What to read with a failing note, as reports word it."""

from collections.abc import Iterable, Mapping

from kb.core.ids import NoteId
from kb.core.model import Base
from kb.knowledge import Companion
from kb.stats.note_state import Judged

MOST = 2
"""Companions shown for one note: more would be a second list."""


def find_along(
    base: Base, rows: Iterable[Judged], wanted: frozenset[NoteId]
) -> dict[NoteId, tuple[Companion, ...]]:
    """What to read with each failing note of those wanted: the one it is confused with, then what
    it builds on.
    """
    failing = {row.note for row in rows if row.state == "failing"}
    if not wanted & failing:
        return {}
    from kb.knowledge import companions

    return companions(base, failing, wanted & failing, MOST)


def along_lines(found: Iterable[Companion], titles: Mapping[NoteId, str]) -> tuple[str, ...]:
    """`Read with it: TITLE, as ...`, or nothing."""
    parts = [f"{titles[one.note]} ({one.why})" for one in found if one.note in titles]
    return (f"Read with it: {'; '.join(parts)}",) if parts else ()
