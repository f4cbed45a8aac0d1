"""What a failing note brings along, as reports say it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from kb.graph import Companion
    from kb.model import Base, NoteId
    from kb.stats.failing import Judged

MOST = 2
"""Companions of one note: more would be a second list."""


def find_along(
    base: Base, rows: Iterable[Judged], only: frozenset[NoteId] | None = None
) -> dict[NoteId, tuple[Companion, ...]]:
    """For each failing note what to read with it: its confused neighbour, then what it leans on.

    Args:
        base: The base.
        rows: Judged notes; all that fail seed the walk.
        only: The notes whose companions are wanted; None for all that fail.
    """
    failing = {row.note: row.marks for row in rows if row.state == "failing"}
    if not failing or (only is not None and not only & set(failing)):
        return {}
    from kb.graph import build_graph, companions

    found = companions(base, build_graph(base), failing, MOST)
    return {note: rows for note, rows in found.items() if only is None or note in only}


def along_lines(found: Iterable[Companion], titles: Mapping[NoteId, str]) -> tuple[str, ...]:
    """`Read with it: TITLE, as ...`, or nothing."""
    parts = [f"{titles[one.note]} ({one.why})" for one in found if one.note in titles]
    return (f"Read with it: {'; '.join(parts)}",) if parts else ()
