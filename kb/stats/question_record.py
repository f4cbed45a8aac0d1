"""A question's own record: the chance of the next answer from its hits and misses."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from kb.stats.logistic import expit, logit

if TYPE_CHECKING:
    from numpy.typing import NDArray

SPREAD = 1.6
"""How widely questions of one area differ for one learner: a standard deviation on the log odds.
Common practice, no source: it is what one learner knows of some questions and not of others, so
wider than the spread of difficulty between the items of a paper (about 1)."""
LIFT = 0.25
"""How much easier a question is when it comes again, on the log odds: what public sets of learner
responses show a week and more after the last meeting. It differs between learners (SD .3)."""
NODES, WEIGHTS = np.polynomial.hermite_e.hermegauss(31)
WEIGHTS = WEIGHTS / WEIGHTS.sum()
STEPS = 6


def record_chances(
    first: NDArray[np.int_],
    hits: NDArray[np.int_],
    misses: NDArray[np.int_],
    usual: NDArray[np.float64],
) -> NDArray[np.float64]:
    """The chance of a right answer to an item on each question's fact, from its answers so far.

    A question met before is known again, so its later answers say less of the fact than the first:
    a hit counts for less and a miss for more.

    Args:
        first: The first answer to each: 1 right, 0 wrong, -1 none yet.
        hits: Later right answers to each.
        misses: Later wrong answers to each.
        usual: The chance for a question not met before, or one for each.

    Source: bock1982, the expected chance given the answers, by Gauss-Hermite quadrature over a
    normal prior.
    """
    middle = wanted = logit(usual)
    for _ in range(STEPS):  # to the middle at which the chance without answers is the usual one
        middle = middle + wanted - logit(_chances(middle) @ WEIGHTS)
    chances, again = _chances(middle), _chances(middle + LIFT)
    met = np.expand_dims(first, -1)
    likely = WEIGHTS * np.where(met < 0, 1.0, np.where(met > 0, chances, 1 - chances))
    likely = likely * again ** np.expand_dims(hits, -1)
    likely = likely * (1 - again) ** np.expand_dims(misses, -1)
    return np.asarray((likely * chances).sum(axis=-1) / likely.sum(axis=-1))


def _chances(middle: NDArray[np.float64]) -> NDArray[np.float64]:
    return expit(np.expand_dims(middle, -1) + SPREAD * NODES)
