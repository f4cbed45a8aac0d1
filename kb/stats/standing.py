"""Standing: how likely one learner is to answer a question of an area right, from own answers.

Parameters: within an area, answers are right with a chance from a beta distribution around the
learner's chance overall, with counts that fade. All combinations of prior strength and half-life
are averaged by how well each forecast the answers so far. `NEXT_ANSWER` serves the very next
answer, `AHEAD` the chance in a paper to come, which reports show; its half-lives are longer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kb.stats.decay import faded_sums

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kb.stats.history import History

BLOCK = 512
"""Answers worked out together."""

PRIOR_MEAN = 0.65
PRIOR_STRENGTH = 10.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Averaging:
    """The prior strengths and half-lives (in answers) over which a standing is averaged."""

    strengths: tuple[float, ...]
    overall_half_lives: tuple[float, ...]
    area_half_lives: tuple[float, ...]


# Starting values measured on public sets of learner responses; the learner's own answers choose
# among them by how well each would have foretold those answers.
NEXT_ANSWER = Averaging(
    strengths=(3.0, 8.0, 20.0, 60.0),
    overall_half_lives=(8.0, 25.0, 80.0, math.inf),
    area_half_lives=(3.0, 10.0, 40.0, math.inf),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """What is known of one area: a beta distribution, and how much stands behind it.

    `right_count` of `tried_count` answers were right, as they are in the log; `mean` is the
    chance of answering a question never met before.
    """

    area: str
    mean: float
    a: float
    b: float
    right_count: int
    tried_count: int


class Tracker:
    """Follows a learner through a history; every figure at row i uses the rows before it only.

    The model: within an area, answers are right with a chance drawn from a beta distribution
    around the learner's chance overall; both are counted with fading. The combinations of prior
    strength and half-lives in `averaging` (64 by default) are averaged, each weighted by how well
    it foretold the answers so far. `weights` gives the evidence in each answer (see
    `recognition`), 1 if not given.

    Source: own, because it joins published parts: the beta-binomial of kleinman1973 and Bayesian
    model averaging by predictive likelihood (dawid1984), with half-lives measured by ourselves.
    """

    def __init__(
        self,
        history: History,
        weights: NDArray[np.float64] | None = None,
        averaging: Averaging = NEXT_ANSWER,
    ) -> None:
        count = len(history)
        self.history = history
        self.averaging = averaging
        self.weights = np.ones(count) if weights is None else weights
        self.rights = np.asarray(history.rights, dtype=float)
        self._index = {area: code for code, area in enumerate(dict.fromkeys(history.areas))}
        self._codes = np.fromiter(map(self._index.__getitem__, history.areas), int, count)
        self._overall = self._overall_means()
        self._totals, self._numbers = self._area_sums()
        self.chances, self._log_weights = self._foretell()

    def _overall_means(self) -> NDArray[np.float64]:
        means = np.empty((len(self.averaging.overall_half_lives), len(self.rights) + 1))
        for row, half_life in enumerate(self.averaging.overall_half_lives):
            total, number = faded_sums(self.rights, self.weights, half_life)
            means[row] = (total + PRIOR_STRENGTH * PRIOR_MEAN) / (number + PRIOR_STRENGTH)
        return means

    def _area_sums(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Before each answer, by half-life; and after all, by half-life and area, in `_last`."""
        shape = (len(self.averaging.area_half_lives), len(self.rights))
        totals, numbers = np.zeros(shape), np.zeros(shape)
        self._last = np.zeros((2, len(self.averaging.area_half_lives), max(1, len(self._index))))
        order = np.argsort(self._codes, kind="stable")
        bounds = np.searchsorted(self._codes[order], np.arange(len(self._index) + 1))
        for code in range(len(self._index)):
            rows = order[bounds[code] : bounds[code + 1]]
            for which, half_life in enumerate(self.averaging.area_half_lives):
                total, number = faded_sums(self.rights[rows], self.weights[rows], half_life)
                totals[which, rows], numbers[which, rows] = total[:-1], number[:-1]
                self._last[:, which, code] = total[-1], number[-1]
        return totals, numbers

    def _foretell(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Before each answer the weighted mean chance; after all, the log weight of each model.

        In blocks of answers, so that what one step makes is still at hand for the next.
        """
        count = len(self.rights)
        strengths = np.asarray(self.averaging.strengths)[:, None, None, None]
        shape = (len(self.averaging.strengths), *self._overall.shape[:1], *self._totals.shape[:1])
        log_weights = np.zeros((math.prod(shape), 1))
        foretold = np.empty(count)
        for start in range(0, count, BLOCK):
            rows = slice(start, min(start + BLOCK, count))
            chances = (
                self._totals[None, None, :, rows] + strengths * self._overall[None, :, None, rows]
            )
            chances /= self._numbers[None, None, :, rows] + strengths
            chances = chances.reshape(len(log_weights), -1)
            likely = np.where(self.rights[rows] > 0, chances, 1.0 - chances)
            steps = np.log(np.maximum(likely, 1e-12)) * self.weights[rows]
            after = log_weights + np.cumsum(steps, axis=1)
            before = after - steps
            shares = np.exp(before - before.max(axis=0))
            foretold[rows] = (shares * chances).sum(axis=0) / shares.sum(axis=0)
            log_weights = after[:, -1:]
        return foretold, (log_weights - log_weights.max())[:, 0]

    def standing(self, area: str) -> Standing:
        """Where the learner stands in `area` after all answers; areas never met too.

        Source: own, because the average of the beta posteriors is matched by one beta of the
        same mean and variance.
        """
        code = self._index.get(area)
        if code is None:
            totals = numbers = np.zeros(len(self.averaging.area_half_lives))
            right_count = tried_count = 0
        else:
            totals, numbers = self._last[0, :, code], self._last[1, :, code]
            met = self._codes == code
            tried_count = int(met.sum())
            right_count = int(self.rights[met].sum())
        strengths = np.asarray(self.averaging.strengths)[:, None, None]
        means = self._overall[None, :, None, -1]
        a = (totals[None, None] + strengths * means).reshape(-1)
        size = np.broadcast_to(
            numbers[None, None] + strengths,
            (len(self.averaging.strengths), len(self.averaging.overall_half_lives), len(numbers)),
        ).reshape(-1)
        shares = np.exp(self._log_weights)
        shares = shares / shares.sum()
        means_of = a / size
        mean = float(shares @ means_of)
        inner = means_of * (1 - means_of) / (size + 1)
        variance = float(shares @ (inner + (means_of - mean) ** 2))
        joint = max(1e-3, mean * (1 - mean) / max(variance, 1e-12) - 1)
        return Standing(
            area=area,
            mean=mean,
            a=mean * joint,
            b=(1 - mean) * joint,
            right_count=right_count,
            tried_count=tried_count,
        )


def outcome_weights(history: History) -> NDArray[np.float64]:
    """Weights that keep repeats in the proportion of the questions first right and first missed.

    Where misses are retried more often than questions that were right, retries of the latter kind
    are too few to stand for it, and those of misses are weighed down by the ratio of the rates;
    with misses only, they weigh nothing. Each weight uses the answers up to it.

    Returns:
        1 for a question met first; min(1, other rate / own rate) for a repeat.

    Source: holt1979, post-stratification, the strata being the first outcomes.
    """
    weights = np.ones(len(history))
    first: dict[str, bool] = {}
    counts = {True: [0, 0], False: [0, 0]}  # questions, repeats
    for row, (question, right) in enumerate(zip(history.questions, history.rights, strict=True)):
        if question not in first:
            first[question] = right
            counts[right][0] += 1
            continue
        own, other = counts[first[question]], counts[not first[question]]
        own[1] += 1
        rate = own[1] / own[0]
        weights[row] = min(1.0, other[1] / other[0] / rate) if other[0] else 1.0
    return weights
