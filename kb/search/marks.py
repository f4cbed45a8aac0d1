"""From a stored note to a hit: its best passage with what matched marked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.core.ids import NoteId
from kb.core.model import Hit
from kb.language.snippets import best_passage

if TYPE_CHECKING:
    from kb.search.document import Record
    from kb.search.query_expansion import Wanted


def hit(record: Record, weight: float, wanted: Wanted) -> Hit:
    """One note found, with its best passage and the line of the file that begins on."""
    passage, line = best_passage(record[6], wanted.worth, wanted.sequences)
    at = record[8] + line - 1 if line else 0
    return Hit(note=NoteId(record[0]), weight=weight, passage=passage, line=at)
