"""The chance of the very next answer in each area, followed through a learner's own answers.

Within an area, answers are right with a chance drawn from a beta distribution around the
learner's chance over all areas; both are counted with fading. All combinations of prior strength
and half-life are averaged by how well each forecast the answers so far.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from kb.stats.decay import faded_sums

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from kb.stats.history import History

# Starting values measured on public sets of learner responses; half-lives in answers.
STRENGTHS = (3.0, 8.0, 20.0, 60.0)
OVERALL_HALF_LIVES = (8.0, 25.0, 80.0, math.inf)
AREA_HALF_LIVES = (3.0, 10.0, 40.0, math.inf)
PRIOR_MEAN = 0.65
PRIOR_STRENGTH = 10.0
BLOCK = 512
"""Answers worked out together, so that what one step makes is still at hand for the next."""


class Tracker:
    """Follows a learner through a history; every figure at row i uses the rows before it only.

    `chances` has one entry for each answer; those well before row `begin` are not worked out.
    `weights` gives the evidence in each answer, 1 by default (see `outcome_weights`).

    Source: own, because it joins published parts: the beta-binomial of kleinman1973 and Bayesian
    model averaging by predictive likelihood (dawid1984), with half-lives we measured.
    """

    def __init__(
        self, history: History, weights: NDArray[np.float64] | None = None, begin: int = 0
    ) -> None:
        count = len(history)
        self._weights = np.ones(count) if weights is None else weights
        self._rights = np.asarray(history.rights, dtype=float)
        self._index, self._codes = history.in_areas.index, history.in_areas.codes
        overall, sums = self._overall_means(), self._area_sums()
        self._overall = overall[:, -1:].copy()
        self.chances, self._shares = self._forecast(overall, sums, begin)

    def _overall_means(self) -> NDArray[np.float64]:
        means = np.empty((len(OVERALL_HALF_LIVES), len(self._rights) + 1))
        for row, half_life in enumerate(OVERALL_HALF_LIVES):
            total, number = faded_sums(self._rights, self._weights, half_life)
            means[row] = (total + PRIOR_STRENGTH * PRIOR_MEAN) / (number + PRIOR_STRENGTH)
        return means

    def _area_sums(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Before each answer, by half-life; `_last` has those after all, by half-life and area."""
        shape = (len(AREA_HALF_LIVES), len(self._rights))
        totals, numbers = np.zeros(shape), np.zeros(shape)
        self._last = np.zeros((2, len(AREA_HALF_LIVES), max(1, len(self._index))))
        order = np.argsort(self._codes, kind="stable")
        bounds = np.searchsorted(self._codes[order], np.arange(len(self._index) + 1))
        for code in range(len(self._index)):
            rows = order[bounds[code] : bounds[code + 1]]
            for which, half_life in enumerate(AREA_HALF_LIVES):
                total, number = faded_sums(self._rights[rows], self._weights[rows], half_life)
                totals[which, rows], numbers[which, rows] = total[:-1], number[:-1]
                self._last[:, which, code] = total[-1], number[-1]
        return totals, numbers

    def _forecast(
        self, overall: NDArray[np.float64], sums: tuple[NDArray[np.float64], ...], begin: int
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """The weighted mean chance before each answer; the share of each model after all."""
        count = len(self._rights)
        log_weights = np.zeros((len(STRENGTHS) * len(OVERALL_HALF_LIVES) * len(AREA_HALF_LIVES), 1))
        found = np.full(count, np.nan)
        for start in range(0, count, BLOCK):
            rows = slice(start, min(start + BLOCK, count))
            totals, numbers = (own[:, rows] for own in sums)
            chances = _chances(totals, numbers, overall[:, rows])
            likely = np.abs(chances - (1.0 - self._rights[rows]))
            steps = np.log(np.maximum(likely, 1e-12, out=likely), out=likely)
            steps *= self._weights[rows]
            if rows.stop <= begin:
                log_weights = log_weights + steps.sum(axis=1, keepdims=True)
                continue
            after = log_weights + np.cumsum(steps, axis=1)
            before = after - steps
            shares = np.exp(before - before.max(axis=0))
            found[rows] = (shares * chances).sum(axis=0) / shares.sum(axis=0)
            log_weights = after[:, -1:]
        final = np.exp(log_weights - np.max(log_weights))[:, 0]
        return found, final / final.sum()

    def chance(self, area: str) -> float:
        """The chance of the next answer in `area`, after all answers; areas never met too."""
        totals = numbers = np.zeros((len(AREA_HALF_LIVES), 1))
        if area in self._index:
            totals, numbers = self._last[:, :, self._index[area], None]
        return float(self._shares @ _chances(totals, numbers, self._overall)[:, 0])


def _chances(
    totals: NDArray[np.float64], numbers: NDArray[np.float64], overall: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Posterior means: a row for each model, a column for each answer.

    Args:
        totals: Right answers in the area, by its half-life.
        numbers: Answers in the area, by its half-life.
        overall: The chance over all areas, by its half-life.
    """
    strengths = np.asarray(STRENGTHS)[:, None, None, None]
    chances = totals[None, None] + strengths * overall[None, :, None]
    chances /= numbers[None, None] + strengths
    return chances.reshape(-1, totals.shape[1])


def outcome_weights(history: History) -> NDArray[np.float64]:
    """Weights that keep repeats in the proportion of the questions first right and first missed.

    Where misses are retried more often than questions first right, those retries are weighed down
    by the ratio of the two rates; with retries of misses only, they weigh nothing. Each weight
    uses the answers up to it.

    Returns:
        1 for a question met first; min(1, other rate / own rate) for a repeat.

    Source: holt1979, post-stratification, the strata being the first outcomes.
    """
    seen, rights = history.meetings, np.asarray(history.rights, dtype=bool)
    new = seen.met == 0
    first = rights[new][seen.codes]  # how the first answer to each row's question went
    weights = np.ones(len(history))
    for own, other in ((first, ~first), (~first, first)):
        repeat = own & ~new
        asked, asked_again = np.cumsum(own & new)[repeat], np.cumsum(repeat)[repeat]
        others, others_again = np.cumsum(other & new)[repeat], np.cumsum(other & ~new)[repeat]
        rates = others_again / np.maximum(others, 1) / (asked_again / asked)
        weights[repeat] = np.where(others > 0, np.minimum(1.0, rates), 1.0)
    return weights
