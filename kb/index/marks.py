"""From a stored note to a hit: its best passage with what matched marked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.model import Hit, NoteId

if TYPE_CHECKING:
    from kb.index.looking import Wanted
    from kb.index.pages import Record


def hit(record: Record, weight: float, wanted: Wanted) -> Hit:
    """One note found."""
    return Hit(note=NoteId(record[0]), weight=weight)
