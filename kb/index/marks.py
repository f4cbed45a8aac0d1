"""From a stored note to a hit: its best passage with what matched marked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.answer import Hit, NoteId
from kb.text.passage import best_passage

if TYPE_CHECKING:
    from kb.index.looking import Wanted
    from kb.index.pages import Record


def hit(record: Record, weight: float, wanted: Wanted) -> Hit:
    """One note found, with its best passage and the line of the file that begins on."""
    passage, line = best_passage(record[6], wanted.worth, wanted.sequences)
    at = record[8] + line - 1 if line else 0
    return Hit(note=NoteId(record[0]), weight=weight, passage=passage, line=at)
