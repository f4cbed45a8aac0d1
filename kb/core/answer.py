"""What a search gives: records of their own, so that a search need not import all others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NewType

NoteId = NewType("NoteId", str)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hit:
    """One note found.

    `passage` is the best passage of its text in pieces: (text, whether it matched).
    """

    note: NoteId
    weight: float
    passage: tuple[tuple[str, bool], ...] = ()
    line: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a search found, best first.

    `total_count` counts all that match, `also` the other forms looked for, and `nearest`
    the known words nearest to one that finds nothing.
    """

    hits: tuple[Hit, ...]
    total_count: int
    also: tuple[str, ...] = ()
    nearest: tuple[str, ...] = ()
