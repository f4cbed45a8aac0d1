"""Does reading a note work: how many of the misses at risk it takes away."""

from __future__ import annotations

import math
from bisect import bisect_left
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import datetime

    from kb.core.model import Attempt, Base

# Own starting value: half of what is at risk on a note is taken to be won back by reading it,
# until the learner's own retries say otherwise; it weighs as much as 20 expected misses.
PRIOR_FRACTION = 0.5
PRIOR_MISS_COUNT = 20.0
LEAST_RETRY_COUNT = 20
Z95 = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingEffect:
    """The share of misses that reading takes away, with its 95 % interval.

    `read_count` and `unread_count` are retries after a miss, with and without the note read in
    between; only when there are `enough` of both is there anything to say.
    """

    fraction: float
    low: float
    high: float
    read_count: int
    unread_count: int

    @property
    def enough(self) -> bool:
        """Whether both kinds of retry are many enough to speak of."""
        return min(self.read_count, self.unread_count) >= LEAST_RETRY_COUNT


def reading_effect(base: Base, chances: Sequence[float]) -> ReadingEffect:
    """Compare retries after a miss with and without the note read in between.

    Retries are matched by standing in the area (below .5, to .65, above) and by days since the
    miss (within one, within seven, more). The misses expected of the read ones, had they not been
    read, are set against the misses there were, and the ratio is shrunk to the starting value.

    Args:
        base: Notes, attempts and readings.
        chances: The chance of each attempt said by standing before it, in the order of attempts.

    Returns:
        The starting value, with a very wide interval, when nothing was retried.

    Source: mantel1959, matching by strata; own, because the shrinking to a prior is a gamma
    prior on a ratio of counts.
    """
    read_at = _readings(base)
    notes: dict[str, list[str]] = {}
    for note in base.notes:
        for question in note.questions:
            notes.setdefault(question, []).append(note.id)
    last: dict[str, Attempt] = {}
    cells: dict[tuple[int, int], list[list[int]]] = {}
    for attempt, chance in zip(base.attempts, chances, strict=True):
        before = last.get(attempt.question)
        last[attempt.question] = attempt
        own = notes.get(attempt.question)
        if own is None or before is None or before.right:
            continue
        gap = (attempt.at - before.at).total_seconds() / 86400
        cell = cells.setdefault((_band(chance, 0.5, 0.65), _band(gap, 1, 7)), [[0, 0], [0, 0]])
        read = any(_between(read_at.get(note, []), before.at, attempt.at) for note in own)
        cell[read][0] += not attempt.right
        cell[read][1] += 1
    return _compare(list(cells.values()))


def _compare(cells: list[list[list[int]]]) -> ReadingEffect:
    unread_miss = sum(cell[0][0] for cell in cells)
    unread_count = sum(cell[0][1] for cell in cells)
    read_miss = sum(cell[1][0] for cell in cells)
    read_count = sum(cell[1][1] for cell in cells)
    overall = (unread_miss + 1) / (unread_count + 2)
    expected = sum(cell[1][1] * (cell[0][0] + 4 * overall) / (cell[0][1] + 4) for cell in cells)
    if not (read_count and unread_count):
        expected = read_miss = 0
    kept = PRIOR_MISS_COUNT * (1 - PRIOR_FRACTION) + read_miss
    ratio = kept / (PRIOR_MISS_COUNT + expected)
    spread = Z95 * math.sqrt(1 / kept + 1 / (unread_miss + 1))
    return ReadingEffect(
        fraction=max(0.0, 1 - ratio),
        low=1 - ratio * math.exp(spread),
        high=1 - ratio * math.exp(-spread),
        read_count=read_count,
        unread_count=unread_count,
    )


def _readings(base: Base) -> dict[str, list[datetime]]:
    found: dict[str, list[datetime]] = {}
    for reading in base.readings:
        found.setdefault(reading.note, []).append(reading.at)
    return {note: sorted(moments) for note, moments in found.items()}


def _between(moments: list[datetime], start: datetime, stop: datetime) -> bool:
    place = bisect_left(moments, start)
    return place < len(moments) and moments[place] < stop


def _band(value: float, low: float, high: float) -> int:
    return 0 if value < low else 1 if value < high else 2
