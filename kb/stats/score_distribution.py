"""The distribution of an exam's score: areas added up, and what is read off the sum."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kb.stats.logistic import expit, logit

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

NO_SHIFT = np.zeros(1)
TINY = np.finfo(np.float64).tiny
"""The least number that a logarithm is taken of."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """Items of one kind: how many, the mean chance of getting one right, and how sure that is.

    `strength` is the sum of the two shapes of a beta distribution; infinite when the chance is
    known exactly.
    """

    item_count: int
    mean: float
    strength: float


def part_distribution(part: Part, shifts: NDArray[np.float64] = NO_SHIFT) -> NDArray[np.float64]:
    """How probable each number right is in one part.

    Args:
        part: The items.
        shifts: Added to the log odds of the mean, one at a time.

    Returns:
        One row for each shift; column x is the probability of x right, 0 to `item_count`.

    Source: own, because the beta-binomial follows from conjugacy (any textbook).
    """
    n = part.item_count
    mean = np.full(len(shifts), part.mean)
    if shifts is not NO_SHIFT:
        mean = expit(logit(mean) + shifts)
    choose = [
        math.lgamma(n + 1) - math.lgamma(x + 1) - math.lgamma(n - x + 1) for x in range(n + 1)
    ]
    if math.isinf(part.strength):
        kept = np.maximum(mean, TINY)[:, None]
        missed = np.maximum(1 - mean, TINY)[:, None]
        x = np.arange(n + 1)
        return np.asarray(np.exp(np.asarray(choose) + x * np.log(kept) + (n - x) * np.log(missed)))
    steps = np.arange(n)
    a = mean[:, None] * part.strength
    right = _rising(a + steps)
    wrong = _rising(part.strength - a + steps)[:, ::-1]
    whole = np.log(part.strength + steps).sum()
    return np.asarray(np.exp(np.asarray(choose) + right + wrong - whole))


def _rising(factors: NDArray[np.float64]) -> NDArray[np.float64]:
    """Logs of the products of the first 0, 1, 2, ... factors of each row."""
    sums = np.zeros((factors.shape[0], factors.shape[1] + 1))
    np.cumsum(np.log(np.maximum(factors, TINY)), axis=1, out=sums[:, 1:])
    return sums


def score_distributions(
    parts: Sequence[Part], shifts: NDArray[np.float64] = NO_SHIFT
) -> NDArray[np.float64]:
    """How probable each score is over all parts, for each shift of the log odds of all of them.

    Returns:
        One row for each shift; column x is the probability of x right in all.

    Source: own, because independent counts add up by convolution (any textbook); done exactly up
    to rounding by fast Fourier transform.
    """
    total = sum(part.item_count for part in parts)
    size = total + 1
    spectrum: NDArray[np.complex128] = np.ones((len(shifts), size // 2 + 1), dtype=np.complex128)
    for part in parts:
        if part.item_count:
            spectrum *= np.fft.rfft(part_distribution(part, shifts), size, axis=1)
    return np.asarray(np.maximum(np.fft.irfft(spectrum, size, axis=1), 0.0))


def quantile(pmf: NDArray[np.float64], share: float) -> int:
    """The lowest score not exceeded with at least that probability."""
    return int(np.searchsorted(np.cumsum(pmf), share - 1e-12))


def mean_score(pmf: NDArray[np.float64]) -> float:
    """The expected score."""
    return float(pmf @ np.arange(len(pmf)))


def at_least(pmf: NDArray[np.float64], cut: int) -> float:
    """How probable a score of `cut` or more is."""
    return float(min(1.0, pmf[max(0, cut) :].sum()))


def crps(pmf: NDArray[np.float64], score: int) -> float:
    """The continuous ranked probability score of a forecast, in items: 0 is perfect.

    Source: gneiting2007, sum of squared differences between forecast and outcome, both cumulated.
    """
    below = np.cumsum(pmf)
    return float(((below - (np.arange(len(pmf)) >= score)) ** 2).sum())
