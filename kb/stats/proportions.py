"""How sure one can be of a share: intervals for one proportion, and for the change of one."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

from kb.stats.beta import beta_quantile


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """Two bounds, `low` not above `high`."""

    low: float
    high: float


def _normal_quantile(level: float) -> float:
    if not 0 < level < 1:
        raise ValueError("a confidence level lies strictly between 0 and 1")
    return NormalDist().inv_cdf(0.5 + level / 2)


def _check(right_count: float, tried_count: float) -> None:
    if not 0 <= right_count <= tried_count:
        raise ValueError("a count lies between 0 and the number tried")


def wilson(
    right_count: float, tried_count: float, *, level: float = 0.95, continuity: bool = False
) -> Interval:
    """Bound the true share behind `right_count` of `tried_count`.

    Args:
        right_count: Successes, 0 <= right_count <= tried_count.
        tried_count: Trials; 0 gives the whole of [0, 1].
        level: Confidence level, strictly between 0 and 1.
        continuity: Whether to correct for continuity, which is wider.

    Returns:
        Fractions in [0, 1].

    Raises:
        ValueError: A count or the level is out of its range.

    Source: wilson1927, score interval; newcombe1998 for the corrected form (method 4).
    """
    _check(right_count, tried_count)
    z = _normal_quantile(level)
    if tried_count == 0:
        return Interval(low=0.0, high=1.0)
    n, p = tried_count, right_count / tried_count
    middle, below = 2 * n * p + z * z, 2 * (n + z * z)
    if not continuity:
        half = z * math.sqrt(z * z + 4 * n * p * (1 - p))
        low, high = (middle - half) / below, (middle + half) / below
    else:
        under = z * z - 2 - 1 / n + 4 * p * (n * (1 - p) + 1)
        over = z * z + 2 - 1 / n + 4 * p * (n * (1 - p) - 1)
        low = (middle - 1 - z * math.sqrt(max(0.0, under))) / below
        high = (middle + 1 + z * math.sqrt(max(0.0, over))) / below
    return Interval(
        low=0.0 if right_count == 0 else max(0.0, low),
        high=1.0 if right_count == tried_count else min(1.0, high),
    )


def exact(right_count: int, tried_count: int, *, level: float = 0.95) -> Interval:
    """Bound the true share so that the interval never covers less often than it says.

    Args:
        right_count: Successes, 0 <= right_count <= tried_count.
        tried_count: Trials; 0 gives the whole of [0, 1].
        level: Confidence level, strictly between 0 and 1.

    Returns:
        Fractions in [0, 1].

    Raises:
        ValueError: A count or the level is out of its range.

    Source: clopper1934, through beta quantiles.
    """
    _check(right_count, tried_count)
    _normal_quantile(level)
    tail = (1 - level) / 2
    wrong_count = tried_count - right_count
    low = beta_quantile(tail, right_count, wrong_count + 1) if right_count else 0.0
    high = beta_quantile(1 - tail, right_count + 1, wrong_count) if wrong_count else 1.0
    return Interval(low=low, high=high)


def beta_interval(a: float, b: float, *, level: float = 0.95) -> Interval:
    """The central interval of a beta distribution, such as a posterior over a share.

    Args:
        a: First shape: prior and successes, above 0.
        b: Second shape: prior and failures, above 0.
        level: Share of the distribution inside, strictly between 0 and 1.

    Returns:
        Fractions in [0, 1].

    Raises:
        ValueError: A shape or the level is out of its range.

    Source: own, because it is conjugacy (any textbook); with a = x + 1/2, b = n - x + 1/2 it is
    the interval of Jeffreys.
    """
    _normal_quantile(level)
    tail = (1 - level) / 2
    return Interval(low=beta_quantile(tail, a, b), high=beta_quantile(1 - tail, a, b))


def newcombe_change(
    now_right: float, now_tried: float, then_right: float, then_tried: float, *, level: float = 0.95
) -> Interval:
    """Bound the change from one share to another, each from its own trials.

    Args:
        now_right: Successes now.
        now_tried: Trials now.
        then_right: Successes before.
        then_tried: Trials before.
        level: Confidence level, strictly between 0 and 1.

    Returns:
        Bounds of (share now - share before), in [-1, 1]; with no trials on a side, wide.

    Raises:
        ValueError: A count or the level is out of its range.

    Source: newcombe1998b, method 10 (hybrid score).
    """
    now = wilson(now_right, now_tried, level=level)
    then = wilson(then_right, then_tried, level=level)
    p = now_right / now_tried if now_tried else 0.5
    q = then_right / then_tried if then_tried else 0.5
    return Interval(
        low=max(-1.0, p - q - math.hypot(p - now.low, then.high - q)),
        high=min(1.0, p - q + math.hypot(now.high - p, q - then.low)),
    )
