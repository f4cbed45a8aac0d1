"""Logistic regression with a normal prior on the coefficients."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_STEPS = 25


def logit(p: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log odds of fractions, kept away from 0 and 1."""
    kept = np.clip(p, 1e-6, 1 - 1e-6)
    return np.asarray(np.log(kept / (1 - kept)))


def expit(z: NDArray[np.float64]) -> NDArray[np.float64]:
    """Fractions of log odds."""
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * z)))


def fit_map(
    rows: NDArray[np.float64],
    rights: NDArray[np.float64],
    start: NDArray[np.float64],
    spread: NDArray[np.float64],
    begin: NDArray[np.float64] | None = None,
) -> NDArray[np.float64]:
    """The most probable coefficients given the data and a normal prior.

    Args:
        rows: One row of features for each answer.
        rights: 1 for right, 0 for wrong.
        start: Means of the prior.
        spread: Standard deviations of the prior, above 0.
        begin: Where to start the search; default: the prior's means.

    Returns:
        The coefficients; `start` itself when there are no rows.

    Source: mccullagh1989, Newton's method on the logistic likelihood; the prior adds a ridge.
    """
    counted = np.column_stack([rights, np.ones(len(rights))])
    return newton(rows, counted, start, np.diag(1.0 / spread**2), begin)


def newton(
    rows: NDArray[np.float64],
    counted: NDArray[np.float64],
    expected: NDArray[np.float64],
    precision: NDArray[np.float64],
    begin: NDArray[np.float64] | None = None,
) -> NDArray[np.float64]:
    """The most probable coefficients of counts under a normal prior.

    Args:
        rows: One row of features for each group of answers.
        counted: Right answers and answers of each group.
        expected: Means of the prior.
        precision: The inverse of the prior's covariance.
        begin: Where to start the search; default: the prior's means.

    Source: mccullagh1989, Newton's method on the logistic likelihood.
    """
    if not len(rows):
        return expected
    beta = expected.copy() if begin is None else begin.copy()
    for _ in range(MOST_STEPS):
        p = expit(rows @ beta)
        slope = rows.T @ (counted[:, 0] - counted[:, 1] * p) - precision @ (beta - expected)
        bend = (rows * (counted[:, 1] * p * (1 - p))[:, None]).T @ rows + precision
        step = np.linalg.solve(bend, slope)
        largest = float(np.abs(step).max())
        beta = beta + step / max(1.0, largest / 2)
        if largest < 1e-6:
            break
    return beta
