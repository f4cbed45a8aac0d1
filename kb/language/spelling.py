"""Did you mean: the known words nearest to one that finds nothing."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from kb.language.abbreviations import stock
from kb.language.data import rows
from kb.language.normalise import american, plain

if TYPE_CHECKING:
    from collections.abc import Iterable

SHORTEST = 4
"""Letters of a word worth helping with: shorter ones are near to everything."""

DOUBLED = re.compile(r"(.)\1+")
WORD = re.compile(r"[a-z]+")


def slips(length: int) -> int:
    """How many slips a word of that many letters may hold: a letter too many, too few, wrong,
    or two letters in each other's place.

    >>> [slips(length) for length in (3, 4, 6, 12)]
    [0, 1, 2, 3]
    """
    if length < SHORTEST:
        return 0
    return 1 if length < 6 else 2 if length < 11 else 3


def nearest_words(word: str, known: Iterable[str], limit: int = 3) -> tuple[str, ...]:
    """The known words nearest to `word`, best first; none if nothing is near.

    British and American spellings count as equal, and a letter doubled or not as half a slip.

    Args:
        word: One word that finds nothing.
        known: Words in small letters; their order does not matter.
        limit: How many to name.

    Source: damerau1964, the four slips; the distance is rapidfuzz's optimal string alignment.
    """
    from rapidfuzz.distance import OSA
    from rapidfuzz.process import extract

    typed = plain(word).casefold()
    wanted = american(typed)
    allowed = slips(len(wanted))
    if not allowed:
        return ()
    spelt: dict[str, list[str]] = {}
    for candidate in known:
        if abs(len(candidate) - len(wanted)) <= allowed + 1:
            spelt.setdefault(american(candidate), []).append(candidate)
    found = extract(wanted, list(spelt), scorer=OSA.distance, score_cutoff=allowed, limit=None)
    single = DOUBLED.sub(r"\1", wanted)
    ranked = []
    for near, slip_count, _ in found:
        doubled = DOUBLED.sub(r"\1", near) == single
        distance = slip_count / 2 if doubled else float(slip_count)
        lead = 0
        while lead < min(len(near), len(wanted)) and near[lead] == wanted[lead]:
            lead += 1
        ranked.append((distance, -lead, near))
    best: dict[str, None] = {}
    least = min((distance for distance, _, _ in ranked), default=0)
    for distance, _, near in sorted(ranked):
        if distance <= least + 1:
            best[min(spelt[near], key=lambda known: (OSA.distance(typed, known), known))] = None
    return tuple(best)[:limit]


def stock_words() -> frozenset[str]:
    """Words in small letters that come with missbook: of abbreviations, names, spellings."""
    text = " ".join(meaning for _, meanings in stock() for meaning in meanings)
    tables = " ".join(
        " ".join(row[:2])
        for name in ("drugs", "names", "plurals", "spelling")
        for row in rows(name)
    )
    found = WORD.findall(f"{text} {tables}".casefold())
    return frozenset(word for word in found if len(word) >= SHORTEST)


def read_dictionary(text: str) -> frozenset[str]:
    """Words in small letters of a spelling dictionary: a count, then one a line, flags behind /."""
    found = (line.partition("/")[0].strip() for line in text.splitlines()[1:])
    return frozenset(word for word in found if word.isalpha() and word.islower())
