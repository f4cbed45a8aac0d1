"""What a search finds: apart from all other records, which a search need not load."""

from datetime import date
from typing import NamedTuple

from kb.core.ids import NoteId


class Hit(NamedTuple):
    """One note found.

    `passage` is the best passage of its text in pieces: (text, whether it matched).
    """

    note: NoteId
    weight: float
    path: str = ""
    passage: tuple[tuple[str, bool], ...] = ()
    line: int = 0


class SearchResult(NamedTuple):
    """What a search found, best first.

    `total_count` counts all that match, `also` are the other forms searched for, and `nearest` the
    known words nearest to one that finds nothing. `searched` are words that no note has, each with
    those searched instead. Where `lacking`, words that no note has in any form, carry the question,
    nothing is found, and `sharing` are notes that share the rest. `later` are titles and days of
    notes that are dated later than the day looked at.
    """

    hits: tuple[Hit, ...]
    total_count: int
    also: tuple[str, ...] = ()
    nearest: tuple[str, ...] = ()
    searched: tuple[tuple[str, tuple[str, ...]], ...] = ()
    lacking: tuple[str, ...] = ()
    sharing: tuple[Hit, ...] = ()
    later: tuple[tuple[str, date], ...] = ()
