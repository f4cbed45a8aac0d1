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
    failing = {row.note: row.marks for row in rows if row.state == "failing"}
    wanted = frozenset(failing) if only is None else only & set(failing)
    if not wanted:
        return {}
    from kb.knowledge import build_plain, companions, neighbourhood

    if only is not None:
        base = neighbourhood(base, wanted)
        near = {note.id for note in base.notes}
        failing = {note: marks for note, marks in failing.items() if note in near}
    found = companions(base, build_plain(base), failing, MOST)
    return {note: rows for note, rows in found.items() if note in wanted}


def along_lines(found: Iterable[Companion], titles: Mapping[NoteId, str]) -> tuple[str, ...]:
    """`Read with it: TITLE, as ...`, or nothing."""
    parts = [f"{titles[one.note]} ({one.why})" for one in found if one.note in titles]
    return (f"Read with it: {'; '.join(parts)}",) if parts else ()
