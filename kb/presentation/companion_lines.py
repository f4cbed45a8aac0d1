"""What to read with a failing note, as reports word it."""

from collections.abc import Iterable, Mapping

from kb.core.ids import NoteId
from kb.core.model import Base
from kb.knowledge import Companion
from kb.stats.note_state import Judged

MOST = 2
"""Companions shown for one note: more would be a second list."""


def find_along(
    base: Base, rows: Iterable[Judged], only: frozenset[NoteId] | None = None
) -> dict[NoteId, tuple[Companion, ...]]:
    """What to read with each failing note: the one it is confused with, then what it builds on.

    Companions are found for `only` these notes; None for all that fail.
    """
    failing = {row.note for row in rows if row.state == "failing"}
    wanted = failing if only is None else only & failing
    if not wanted:
        return {}
    from kb.knowledge import companions

    return companions(base, failing, wanted, MOST)


def along_lines(found: Iterable[Companion], titles: Mapping[NoteId, str]) -> tuple[str, ...]:
    """`Read with it: TITLE, as ...`, or nothing."""
    parts = [f"{titles[one.note]} ({one.why})" for one in found if one.note in titles]
    return (f"Read with it: {'; '.join(parts)}",) if parts else ()
