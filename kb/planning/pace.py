"""How long things take the person: answering, reviewing a wrong answer, reading; from the log.

Source: own, because these are plain means and medians of what the log holds.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median

import numpy as np
from numpy.typing import NDArray

from kb.core.answers import Answers
from kb.core.model import Attempt, Base, Note
from kb.stats.forecast import rights_left_out

RECENT_COUNT, LEAST_COUNT = 200, 20
"""A pace is the mean of the last 200 timed answers, once there are 20."""
LONGEST_SECONDS = 900.0
"""A longer time for one question is a break, not a pace."""
REVIEW_SECONDS = 120.0
"""To read the explanation of a wrong answer and sometimes write a note (common practice, no
source)."""
SHORTEST_REVIEW_SECONDS = 10.0
USUAL_MISS_FRACTION, USUAL_MISS_STRENGTH = 0.35, 10
"""Share wrong before the log says more, counted as ten answers, and where right ones are not logged
(common practice, no source)."""
MICROSECONDS = 6
"""Decimals of a moment."""
LEAST_READINGS, RECENT_READINGS = 10, 100


@dataclass(frozen=True, slots=True, kw_only=True)
class Pace:
    """Seconds and shares behind the cost of a question, for new ones and for retries.

    `timed_count` answers were timed; 0 when the pace is the exam's own or was set. A review with a
    note takes `note_seconds` (0 until measured); `review_seconds` is the mean, notes included.
    """

    seconds: float = 108.0
    miss_fraction: float = USUAL_MISS_FRACTION
    retry_seconds: float = 108.0
    retry_miss_fraction: float = USUAL_MISS_FRACTION
    review_seconds: float = REVIEW_SECONDS
    note_seconds: float = 0.0
    timed_count: int = 0

    @property
    def new_cost(self) -> float:
        """Seconds that one new question takes, review of the misses included."""
        return self.seconds + self.miss_fraction * self.review_seconds

    @property
    def retry_cost(self) -> float:
        """The same for a question tried again."""
        return self.retry_seconds + self.retry_miss_fraction * self.review_seconds


def pace_of(base: Base) -> Pace:
    """The person's own pace and share wrong, on new questions and on repeats, papers left out."""
    settings = base.study.plan
    answers = Answers.of(base.attempts)
    papers = {s.id for s in base.study.sources if s.is_paper}
    alone = ~(answers.equals("round", "paper") | answers.where("source", papers.__contains__))
    codes, names = answers.column("question")
    first_miss, places = np.full(len(names), len(answers)), np.arange(len(answers))
    np.minimum.at(first_miss, codes[~answers.rights], places[~answers.rights])
    new, again = answers.new & alone, ~answers.new & alone & (first_miss[codes] < places)
    timed, timed_again = _timed(answers, new), _timed(answers, again)
    measured = _mean(timed)
    seconds = settings.seconds or measured or base.exam.seconds_per_item
    review, note = _review_seconds(base)
    return Pace(
        seconds=seconds,
        miss_fraction=_miss_fraction(answers.rights[new & (not rights_left_out(base))]),
        retry_seconds=settings.seconds or _mean(timed_again) or seconds,
        retry_miss_fraction=_miss_fraction(answers.rights[again]),
        review_seconds=settings.review_seconds or review or REVIEW_SECONDS,
        note_seconds=0.0 if settings.review_seconds else note,
        timed_count=len(timed) if measured and not settings.seconds else 0,
    )


def _timed(answers: Answers, wanted: NDArray[np.bool_]) -> list[float]:
    """Seconds of the last timed answers among those wanted."""
    codes, values = answers.column("seconds")
    fitting = np.array([bool(value) and value <= LONGEST_SECONDS for value in values], bool)
    return [values[code] for code in codes[fitting[codes] & wanted][-RECENT_COUNT:].tolist()]


def _mean(timed: Sequence[float]) -> float:
    """Mean of timed answers; 0 while there are too few."""
    return sum(timed) / len(timed) if len(timed) >= LEAST_COUNT else 0.0


def _miss_fraction(rights: NDArray[np.bool_]) -> float:
    recent = rights[-RECENT_COUNT:]
    wrong = len(recent) - int(recent.sum())
    start = USUAL_MISS_FRACTION * USUAL_MISS_STRENGTH
    return (wrong + start) / (len(recent) + USUAL_MISS_STRENGTH)


def _review_seconds(base: Base) -> tuple[float, float]:
    """What a wrong answer costs on average, and with a note; 0 while too few show it.

    It is the median pause between a miss and the next answer, which took its own seconds; pauses in
    which a note was written are taken apart, and count by their share. Only answers logged one by
    one show such a pause: those of a block follow without one.
    """
    answers = Answers.of(base.attempts)
    codes, values = answers.column("seconds")
    took = np.array([np.nan if value is None else value for value in values], float)[codes]
    pauses = np.round(np.diff(answers.moments), MICROSECONDS) - took[1:]
    fitting = (pauses >= SHORTEST_REVIEW_SECONDS) & (pauses <= LONGEST_SECONDS)
    near = np.flatnonzero(~answers.rights[:-1] & (np.diff(answers.days) == 0) & fitting)
    if len(near) < LEAST_COUNT:
        return 0.0, 0.0
    days = [(note, note.written_on.toordinal()) for note in base.notes if note.written_on]
    written = {(question, day) for note, day in days for question in note.questions}
    codes, names = answers.column("question")
    misses = zip(codes[near].tolist(), answers.days[near].tolist(), strict=True)
    sides: dict[bool, list[float]] = {False: [], True: []}
    for pause, (code, day) in zip(pauses[near].tolist(), misses, strict=True):
        sides[(names[code], day) in written].append(pause)
    plain, noted = sides[False][-RECENT_COUNT:], sides[True][-RECENT_COUNT:]
    if min(len(plain), len(noted)) < LEAST_COUNT:
        return median(plain + noted), 0.0
    mean = len(plain) * median(plain) + len(noted) * median(noted)
    return mean / (len(plain) + len(noted)), median(noted)


def words_per_minute(base: Base) -> float:
    """The person's reading speed on notes, from the readings that were timed.

    The setting, 110 words a minute unless changed, until ten readings are timed; time to open a
    note is taken off each. 110 for dense notes is common practice, no source.
    """
    words = {note.id: note.word_count for note in base.notes if base.readings}
    opening = base.study.opening_seconds
    timed = [
        (words[reading.note], reading.seconds - opening)
        for reading in base.readings
        if reading.seconds and opening < reading.seconds <= LONGEST_SECONDS
        if words.get(reading.note)
    ][-RECENT_READINGS:]
    if len(timed) < LEAST_READINGS:
        return base.study.words_per_minute
    return 60 * sum(count for count, _ in timed) / sum(seconds for _, seconds in timed)


def reading_seconds(base: Base) -> Callable[[Note], float]:
    """How long a note takes to open and read, in seconds, at the person's own speed."""
    speed, opening = words_per_minute(base), base.study.opening_seconds
    return lambda note: opening + 60 * note.word_count / speed


def paper_prefixes(base: Base) -> tuple[str, ...]:
    """What the references of all questions of papers and mocks begin with."""
    return tuple(f"{s.id}:" for s in base.study.sources if s.is_paper)


def in_paper(attempt: Attempt, papers: tuple[str, ...]) -> bool:
    """Whether an answer was part of a paper, by its round or by `paper_prefixes`."""
    return attempt.round == "paper" or attempt.question.startswith(papers)
