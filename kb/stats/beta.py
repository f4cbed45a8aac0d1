"""The beta distribution, without the cost of importing a large library on every command."""

from __future__ import annotations

import math

STEPS = 300
TINY = 1e-300
MOST_HALVINGS = 200


def beta_cdf(x: float, a: float, b: float) -> float:
    """How probable a beta variable is to be at most `x` (the regularised incomplete beta).

    Args:
        x: A point, clipped to [0, 1].
        a: First shape, above 0.
        b: Second shape, above 0.

    Returns:
        A fraction in [0, 1].

    Raises:
        ValueError: A shape is not above 0.

    Source: lentz1976, evaluation of the continued fraction; tested against scipy.
    """
    if not (a > 0 and b > 0):
        raise ValueError("the shapes of a beta distribution are above 0")
    if x <= 0:
        return 0.0
    if x >= 1:
        return 1.0
    front = math.exp(
        math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    )
    if x < (a + 1) / (a + b + 2):
        return front * _fraction(x, a, b) / a
    return 1.0 - front * _fraction(1 - x, b, a) / b


def _fraction(x: float, a: float, b: float) -> float:
    """The continued fraction of the incomplete beta, from the front (modified Lentz)."""
    c = 1.0
    d = _away_from_zero(1.0 - (a + b) * x / (a + 1))
    d = 1.0 / d
    total = d
    for m in range(1, STEPS):
        for step in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            d = 1.0 / _away_from_zero(1.0 + step * d)
            c = _away_from_zero(1.0 + step / c)
            total *= c * d
        if abs(c * d - 1.0) < 1e-14:
            break
    return total


def _away_from_zero(value: float) -> float:
    return value if abs(value) > TINY else TINY


def beta_quantile(share: float, a: float, b: float) -> float:
    """The point below which a beta variable lies with probability `share`.

    Args:
        share: A fraction in [0, 1].
        a: First shape, above 0.
        b: Second shape, above 0.

    Returns:
        A fraction in [0, 1], to about 1e-12.

    Raises:
        ValueError: `share` is outside [0, 1] or a shape is not above 0.

    Source: own, because Newton's steps, halved wherever they leave what is known to hold the
    point, cannot fail to converge; tested against scipy.
    """
    if not 0 <= share <= 1:
        raise ValueError("a share lies in [0, 1]")
    if share in (0, 1):
        return float(share)
    low, high, at = 0.0, 1.0, a / (a + b)
    for _ in range(MOST_HALVINGS):
        over = beta_cdf(at, a, b) - share
        low, high = (low, at) if over >= 0 else (at, high)
        slope = _density(at, a, b)
        after = at - over / slope if slope > 0 else -1.0
        if not low < after < high:
            after = (low + high) / 2
        if abs(after - at) < 1e-14 or high - low < 1e-13:
            return after
        at = after
    return at


def _density(x: float, a: float, b: float) -> float:
    logs = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b)
    return math.exp(min(700.0, logs + (a - 1) * math.log(x) + (b - 1) * math.log1p(-x)))
