"""Does reading a note work: what share of the misses it takes away.

Retries after reading are compared with retries without it. The notes chosen to be read may differ
from the others, so the comparison proves nothing; where chance chose (`chance_order: yes` in
study.yaml), the two halves are compared as a trial in one person.
"""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256

import numpy as np

from kb.core.answers import Answers
from kb.core.ids import AttemptId, NoteId
from kb.core.model import Attempt, Base, Note
from kb.stats.history import history_of

# Own starting value: reading is taken to do nothing until the learner's own retries say otherwise;
# it weighs as much as 20 expected misses.
PRIOR_MISS_COUNT = 20.0
LEAST_RETRY_COUNT = 20
CHOICE_SPREAD = 0.5
"""Own value: how far what is chosen to be read may differ from the rest, as a standard deviation of
the log ratio of misses. To read all of the harder half of questions and nothing of the other shifts
that ratio by about twice as much (`scripts/simulate_reading.py`)."""
Z95 = 1.96


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingEffect:
    """The share of misses that reading takes away, with its 95% interval.

    `read_count` and `unread_count` are retries after a miss, with and without the note read in
    between, or in a trial put early or late by chance, whatever was then read. Only when there are
    `enough` of both is there anything to say.
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


def reading_effect(base: Base) -> ReadingEffect:
    """Compare retries after a miss with and without the note read in between.

    Only retries after the note was written count. They are matched by how often the question had
    been missed (once, twice, more) and by days since the miss (within one, within seven, more). The
    misses expected of the read ones, had they not been read, are set against the misses there
    were, and the ratio is shrunk towards no effect.

    Returns:
        No effect, with a very wide interval, when nothing was retried.

    Source: mantel1959, matching by strata; own, because the shrinking to a prior is a gamma
    prior on a ratio of counts.
    """
    read_at: dict[str, list[datetime]] = {}
    for reading in base.readings:
        read_at.setdefault(reading.note, []).append(reading.at)
    cells: dict[tuple[int, int], list[list[int]]] = {}
    for notes, before, attempt, misses in _retries(base):
        gap = (attempt.at - before.at).total_seconds() / 86400
        stratum = bisect_right((2, 3), misses), bisect_right((1, 7), gap)
        cell = cells.setdefault(stratum, [[0, 0], [0, 0]])
        read = any(_between(read_at.get(note.id, []), before.at, attempt.at) for note in notes)
        cell[read][0] += not attempt.right
        cell[read][1] += 1
    return _compare(list(cells.values()))


def _retries(base: Base) -> Iterator[tuple[list[Note], Attempt, Attempt, int]]:
    """Each retry of a missed question: the notes that had been written, the miss, the retry, and
    how often the question had been missed.
    """
    notes: dict[str, list[Note]] = {}
    for note in base.notes:
        for question in note.questions:
            notes.setdefault(question, []).append(note)
    answers = Answers.of(base.attempts)
    seen = history_of(answers).meetings
    previous = seen.previous.astype(int)
    missed = (previous >= 0) & ~answers.rights[previous]
    retries = np.flatnonzero(missed & answers.where("question", notes.__contains__))
    counts = (seen.met - seen.hits)[retries].tolist()
    befores = answers.take(previous[retries])
    for attempt, before, count in zip(answers.take(retries), befores, counts, strict=True):
        own = [note for note in notes[attempt.question] if note.answered_since(attempt)]
        if own:
            yield own, before, attempt, count


def chance_says_early(note: NoteId, miss: AttemptId) -> bool:
    """Whether chance puts a note early in the list after a miss: one bit of a digest.

    So two devices never choose differently. What was chosen is read from the log, never from here.
    """
    return bool(sha256(f"{note} {miss}".encode()).digest()[0] & 1)


def reading_trial(base: Base) -> ReadingEffect | None:
    """Compare retries by what chance chose before them, by intention to read; None with fewer than
    twenty in one half.

    Choices are those in the log. A question of several notes counts by the first that has one.

    Source: katz1978, the interval of a ratio of two shares, on its logarithm.
    """
    arms = [[0, 0], [0, 0]]
    chosen = {(one.note, one.miss): one for one in base.reading_choices}
    for notes, before, attempt, _ in _retries(base) if chosen else ():
        own = [one for note in notes if (one := chosen.get((note.id, before.id)))]
        if own and own[0].at <= attempt.at:
            arms[own[0].early][0] += not attempt.right
            arms[own[0].early][1] += 1
    late, early = arms
    if min(late[1], early[1]) < LEAST_RETRY_COUNT or not late[0] or not early[0]:
        return None
    ratio, low, high = ratio_of_shares(early[0], early[1], late[0], late[1])
    return ReadingEffect(
        fraction=1 - ratio,
        low=1 - high,
        high=1 - low,
        read_count=early[1],
        unread_count=late[1],
    )


def ratio_of_shares(one: int, of: int, other: int, other_of: int) -> tuple[float, float, float]:
    """The ratio of two shares, neither 0, with its 95% bounds.

    Source: katz1978.
    """
    ratio = (one / of) / (other / other_of)
    spread = Z95 * math.sqrt(1 / one - 1 / of + 1 / other - 1 / other_of)
    return ratio, ratio * math.exp(-spread), ratio * math.exp(spread)


def _compare(cells: list[list[list[int]]]) -> ReadingEffect:
    unread_miss = sum(cell[0][0] for cell in cells)
    unread_count = sum(cell[0][1] for cell in cells)
    read_miss = sum(cell[1][0] for cell in cells)
    read_count = sum(cell[1][1] for cell in cells)
    overall = (unread_miss + 1) / (unread_count + 2)
    expected = sum(cell[1][1] * (cell[0][0] + 4 * overall) / (cell[0][1] + 4) for cell in cells)
    if not (read_count and unread_count):
        expected = read_miss = 0
    kept = PRIOR_MISS_COUNT + read_miss
    ratio = kept / (PRIOR_MISS_COUNT + expected)
    spread = Z95 * math.sqrt(1 / kept + 1 / (unread_miss + 1) + CHOICE_SPREAD**2)
    return ReadingEffect(
        fraction=1 - ratio,
        low=1 - ratio * math.exp(spread),
        high=1 - ratio * math.exp(-spread),
        read_count=read_count,
        unread_count=unread_count,
    )


def _between(moments: list[datetime], start: datetime, stop: datetime) -> bool:
    place = bisect_left(moments, start)
    return place < len(moments) and moments[place] < stop
