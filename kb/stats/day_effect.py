"""The day effect: what moves a whole paper up or down together, learned from own past papers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

# Standard deviations on the log odds, and how probable each is before any paper was sat.
# Measured on public sets of learner responses, as successive mixed papers of one learner.
SPREADS = np.array([0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6])
PRIOR = np.array([0.05, 0.12, 0.20, 0.24, 0.19, 0.12, 0.08])
SHIFTS = np.linspace(-1.8, 1.8, 37)
# Unevenness pulls a share above one half down: the mean of expit(z + e) over e is about
# expit(z + v (1 - 2 p) / 2) for variance v. With p near .65 the effect is centred at .15 v, so that
# it widens a forecast without moving it.
CENTRE = 0.15


def _density() -> NDArray[np.float64]:
    """How probable each shift is, one row for each spread."""
    rows = np.zeros((len(SPREADS), len(SHIFTS)))
    for row, spread in enumerate(SPREADS):
        if spread:
            middle = CENTRE * spread**2
            rows[row] = np.exp(-0.5 * ((SHIFTS - middle) / spread) ** 2)
        else:
            rows[row, len(SHIFTS) // 2] = 1.0
    return np.asarray(rows / rows.sum(axis=1, keepdims=True))


DENSITY = _density()


class DayEffect:
    """What is believed of the spread of the day effect; `learn` from each paper's score.

    Source: own, because a discrete posterior over seven spreads needs no approximation.
    """

    def __init__(self) -> None:
        self.weights = PRIOR / PRIOR.sum()

    def learn(self, by_shift: NDArray[np.float64], score: int) -> None:
        """Take in a score, given the forecast made before it (one row for each shift).

        Source: own, see the class.
        """
        likely = DENSITY @ by_shift[:, score]
        weights = self.weights * np.maximum(likely, 1e-12)
        self.weights = weights / weights.sum()

    def shift_weights(self) -> NDArray[np.float64]:
        """How probable each of `SHIFTS` is on a day to come.

        Source: own, see the class.
        """
        return np.asarray(self.weights @ DENSITY)

    def mix(self, by_shift: NDArray[np.float64]) -> NDArray[np.float64]:
        """The forecast with the day effect integrated out.

        Source: own, see the class.
        """
        return np.asarray(self.shift_weights() @ by_shift)

    def mean_spread(self) -> float:
        """The expected standard deviation on the log odds.

        Source: own, see the class.
        """
        return float(self.weights @ SPREADS)


def learned(papers: Iterable[tuple[NDArray[np.float64], int]]) -> DayEffect:
    """The day effect after some papers, each a forecast by shift and the score reached.

    Source: own, see `DayEffect`.
    """
    effect = DayEffect()
    for by_shift, score in papers:
        effect.learn(by_shift, score)
    return effect
