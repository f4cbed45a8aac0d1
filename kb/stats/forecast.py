"""The forecast: how probable each score of a paper is, from the blueprint and one's own answers.

Parameters: standing ahead, beta-binomial in each area, areas convolved on 37 day shifts. The
spread of the day effect (0 to .6) and the size of recognition (five values) are learned from past
papers. Over stretches of answers that are no paper, ability also drifts.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np

from kb.core.errors import QueryError
from kb.stats.day_effect import SHIFTS, DayEffect
from kb.stats.recognition import SPREAD as RECOGNITION_SPREAD
from kb.stats.recognition import evidence_weights, learning_weights, lifts
from kb.stats.score_distribution import Part, crps, mean_score, quantile, score_distributions
from kb.stats.standing import AHEAD, Tracker

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from kb.core.model import Attempt, Base
    from kb.core.settings import Exam
    from kb.stats.history import History

# What is added to the lifts of recognition: the learner's own papers choose among these.
RECOGNITION_SHIFTS = (-0.4, -0.2, 0.0, 0.2, 0.4)
# Drift of ability on the log odds over a stretch of answers: .4 over 200, measured on blocks of
# one public set of learner responses.
DRIFT_PER_ANSWER = 0.002
LEAST_ANSWERS = 100
LEVELS = (0.5, 0.8, 0.95)


class Forecaster:
    """Foretells papers, and learns from each paper that was sat.

    The chances of the areas come from standing; recognition is taken out; a day effect moves all
    areas together. Five sizes of recognition are carried along, each weighted by how well it
    foretold the papers so far.

    Source: own, because it joins published parts (see `standing`, `day_effect`, `score`).
    """

    def __init__(self) -> None:
        self._effects = [DayEffect() for _ in RECOGNITION_SHIFTS]
        spread = np.asarray(RECOGNITION_SHIFTS) / RECOGNITION_SPREAD
        self._log_weights = -0.5 * spread**2
        self._rise = np.zeros(len(RECOGNITION_SHIFTS))

    def weigh(
        self, history: History, item_counts: Mapping[str, int], *, span_count: int = 0
    ) -> tuple[NDArray[np.float64], ...]:
        """Score distributions by day shift, one matrix for each size of recognition.

        Args:
            history: The answers known.
            item_counts: Items by area.
            span_count: Answers over which the items are spread, when they are no paper sat at
                once: ability drifts on the way, so the forecast is wider.

        Source: own, see the class.
        """
        if len(set(history.questions)) == len(history):
            by = _drifted(_by_shift(history, item_counts, np.ones(len(history))), span_count)
            return (by,) * len(RECOGNITION_SHIFTS)
        lift = lifts(history)
        self._rise = learning_weights(history, np.asarray(RECOGNITION_SHIFTS), lift)
        weights = (evidence_weights(history, shift, lift) for shift in RECOGNITION_SHIFTS)
        return tuple(_drifted(_by_shift(history, item_counts, own), span_count) for own in weights)

    def mix(self, matrices: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
        """One distribution over the scores.

        Source: own, see the class.
        """
        log_weights = self._log_weights + self._rise
        weights = np.exp(log_weights - np.max(log_weights))
        rows = [effect.mix(by) for effect, by in zip(self._effects, matrices, strict=True)]
        return np.asarray(weights / weights.sum() @ np.asarray(rows))

    def learn(self, matrices: Sequence[NDArray[np.float64]], score: int) -> None:
        """Take in the score of a paper that was foretold by `matrices`.

        Source: own, see the class.
        """
        for place, (effect, by) in enumerate(zip(self._effects, matrices, strict=True)):
            self._log_weights[place] += math.log(max(1e-12, float(effect.mix(by)[score])))
            effect.learn(by, score)


def _drifted(by_shift: NDArray[np.float64], span_count: int) -> NDArray[np.float64]:
    """The same matrix, each day shift being uncertain by the drift over so many answers."""
    spread = DRIFT_PER_ANSWER * span_count
    if spread <= 0:
        return by_shift
    kernel = np.exp(-0.5 * ((SHIFTS[:, None] - SHIFTS[None, :]) / spread) ** 2)
    return np.asarray(kernel / kernel.sum(axis=1, keepdims=True) @ by_shift)


def _by_shift(
    history: History, item_counts: Mapping[str, int], weights: NDArray[np.float64]
) -> NDArray[np.float64]:
    tracker = Tracker(history, weights, AHEAD)
    parts = [_part(tracker, area, count) for area, count in sorted(item_counts.items())]
    return score_distributions(parts, SHIFTS)


def _part(tracker: Tracker, area: str, item_count: int) -> Part:
    stand = tracker.standing(area)
    return Part(item_count=item_count, mean=stand.mean, strength=stand.a + stand.b)


@dataclass(frozen=True, slots=True, kw_only=True)
class Backtest:
    """A past paper as it was foretold, and as it went. Counts are of items."""

    name: str
    item_count: int
    mean: float
    low: int
    high: int
    score: int
    crps: float
    plain_crps: float


def papers_of(attempts: Sequence[Attempt]) -> tuple[tuple[str, tuple[Attempt, ...]], ...]:
    """Papers and mocks that were sat, in order: (name, answers).

    A paper is the answers of round `paper` with one sitting, or of one day where none is given.

    Source: own, because it only groups.
    """
    found: dict[str, list[Attempt]] = {}
    for attempt in attempts:
        if attempt.round == "paper":
            found.setdefault(attempt.sitting or attempt.day.isoformat(), []).append(attempt)
    return tuple((name, tuple(rows)) for name, rows in found.items())


def backtest(
    history: History, papers: Sequence[tuple[str, int, int]]
) -> tuple[Forecaster, tuple[Backtest, ...]]:
    """Foretell each past paper from the answers before it, learning from one to the next.

    Args:
        history: All answers.
        papers: (name, first row, row after the last) of each paper, in order.

    Returns:
        What has learned from all of them, and how each forecast went.

    Source: dawid1984, forecasts are judged one after the other on what came next.
    """
    forecaster, found = Forecaster(), []
    for name, start, stop in papers:
        matrices = forecaster.weigh(history.upto(start), count_items(history.areas[start:stop]))
        pmf, score = forecaster.mix(matrices), sum(history.rights[start:stop])
        found.append(
            Backtest(
                name=name,
                item_count=stop - start,
                mean=mean_score(pmf),
                low=quantile(pmf, 0.1),
                high=quantile(pmf, 0.9),
                score=score,
                crps=crps(pmf, score),
                plain_crps=crps(plain_binomial(history.upto(start), stop - start), score),
            )
        )
        forecaster.learn(matrices, score)
    return forecaster, tuple(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class Outlook:
    """The forecast of the whole exam: how probable each score is, and the past papers behind it."""

    pmf: tuple[float, ...]
    past: tuple[Backtest, ...]

    @property
    def item_count(self) -> int:
        """Items of the exam."""
        return len(self.pmf) - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class ScoreRange:
    """Scores between which the score lies with a chance of `level`; both bounds included."""

    level: float
    low_count: int
    high_count: int


def exam_outlook(base: Base, history: History) -> Outlook | None:
    """What to expect of the exam; None when there is too little to say.

    Each paper sat with enough answers before it is foretold first, so that the forecast has
    learned from all of them.

    Args:
        base: The blueprint, and the answers with their sittings.
        history: The same answers as columns.

    Source: own, see `Forecaster`.
    """
    if len(base.attempts) < LEAST_ANSWERS or not base.exam.item_count:
        return None
    rows = {attempt.id: row for row, attempt in enumerate(base.attempts)}
    spans = []
    for name, own in papers_of(base.attempts):
        places = [rows[attempt.id] for attempt in own]
        start, stop = min(places), max(places) + 1
        if start >= LEAST_ANSWERS and stop - start == len(own):
            spans.append((name, start, stop))
    forecaster, past = backtest(history, spans)
    counts = {str(area.id): area.item_count for area in base.exam.areas if area.item_count}
    pmf = forecaster.mix(forecaster.weigh(history, counts))
    return Outlook(pmf=tuple(pmf.tolist()), past=past)


def score_ranges(pmf: NDArray[np.float64]) -> tuple[ScoreRange, ...]:
    """The likely ranges of a forecast, narrowest first.

    Source: own, because each leaves equal chances on both sides.
    """
    return tuple(
        ScoreRange(
            level=level,
            low_count=quantile(pmf, (1 - level) / 2),
            high_count=quantile(pmf, (1 + level) / 2),
        )
        for level in LEVELS
    )


def pass_mark_of(
    exam: Exam, pass_mark: float | None, pass_sd: float | None
) -> tuple[float, float] | None:
    """The pass mark and its standard deviation, shares of the items: as asked for, else the exam's
    own; None when there is no mark.

    Raises:
        QueryError: One of them is no share.

    Source: own, because it only looks it up.
    """
    if any(asked is not None and not 0 <= asked <= 1 for asked in (pass_mark, pass_sd)):
        raise QueryError("a pass mark is a share of the items", hint="such as 0.6, or 0.02")
    mark = exam.pass_fraction if pass_mark is None else pass_mark
    spread = exam.pass_sd_fraction if pass_sd is None else pass_sd
    return None if mark is None else (mark, spread or 0.0)


def count_items(areas: Sequence[str]) -> dict[str, int]:
    """How many items each area has.

    Source: own, because it only counts.
    """
    found: dict[str, int] = {}
    for area in areas:
        found[area] = found.get(area, 0) + 1
    return found


def plain_binomial(history: History, item_count: int) -> NDArray[np.float64]:
    """What a naive forecast would say: the share right so far, over all answers alike.

    Source: own, because it is the yardstick that a forecast has to beat.
    """
    chance = (sum(history.rights) + 0.5) / (len(history) + 1)
    part = Part(item_count=item_count, mean=chance, strength=math.inf)
    return np.asarray(score_distributions([part])[0])


def least_right(item_count: int, pass_mark: float) -> int:
    """How many items must be right to reach a pass mark, a share of the items.

    Source: own, because it is the definition: half an item cannot be right.
    """
    return max(0, math.ceil(pass_mark * item_count - 1e-9))


def pass_fraction(pmf: NDArray[np.float64], pass_mark: float, pass_mark_sd: float = 0.0) -> float:
    """The chance of passing when the pass mark itself is not sure.

    Args:
        pmf: How probable each score is.
        pass_mark: The mark expected, as a share of the items.
        pass_mark_sd: Its standard deviation, a share too; 0 when the mark is known.

    Returns:
        A fraction in [0, 1].

    Source: own, because it integrates the chance of reaching the mark over a normal pass mark.
    """
    items = len(pmf) - 1
    if pass_mark_sd <= 0:
        return float(min(1.0, pmf[least_right(items, pass_mark) :].sum()))
    marks = NormalDist(pass_mark, pass_mark_sd)
    reached = np.array([marks.cdf(score / items) for score in range(items + 1)])
    return float(min(1.0, pmf @ reached))
