"""What a search finds: apart from all other records, which a search need not load."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kb.core.ids import NoteId


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """One note found.

    `passage` is the best passage of its text in pieces: (text, whether it matched).
    """

    note: NoteId
    weight: float
    path: str = ""
    passage: tuple[tuple[str, bool], ...] = ()
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchResult:
    """What a search found, best first.

    `total_count` counts all that match, `also` are the other forms searched for, and `nearest` the
    known words nearest to one that finds nothing.
    """

    hits: tuple[Hit, ...]
    total_count: int
    also: tuple[str, ...] = ()
    nearest: tuple[str, ...] = ()
