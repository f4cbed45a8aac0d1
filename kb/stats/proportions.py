"""How sure one can be of a share: intervals for one proportion, and for the change of one."""

import math
from dataclasses import dataclass
from statistics import NormalDist

LIKELY_LEVEL = 0.8
"""Confidence of every range that is shown as likely."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Interval:
    """Two bounds, `low` not above `high`."""

    low: float
    high: float


def wilson(right_count: float, tried_count: float, *, level: float = 0.95) -> Interval:
    """Bound the true share behind `right_count` of `tried_count`.

    Args:
        right_count: Successes, 0 <= right_count <= tried_count.
        tried_count: Trials; 0 gives the whole of [0, 1].
        level: Confidence level, strictly between 0 and 1.

    Returns:
        Fractions in [0, 1].

    Raises:
        ValueError: A count or the level is out of its range.

    Source: wilson1927, the score interval.
    """
    if not 0 <= right_count <= tried_count:
        raise ValueError("a count lies between 0 and the number tried")
    if not 0 < level < 1:
        raise ValueError("a confidence level lies strictly between 0 and 1")
    if tried_count == 0:
        return Interval(low=0.0, high=1.0)
    z = NormalDist().inv_cdf(0.5 + level / 2)
    n, p = tried_count, right_count / tried_count
    middle, below = 2 * n * p + z * z, 2 * (n + z * z)
    half = z * math.sqrt(z * z + 4 * n * p * (1 - p))
    return Interval(
        low=0.0 if right_count == 0 else (middle - half) / below,
        high=1.0 if right_count == tried_count else (middle + half) / below,
    )


def likely_range(right_count: float, tried_count: float) -> Interval:
    """The likely range of a share, as every report shows it; arguments and source as `wilson`."""
    return wilson(right_count, tried_count, level=LIKELY_LEVEL)


def newcombe_change(
    now_right: float, now_tried: float, then_right: float, then_tried: float
) -> Interval:
    """Bound the change from one share to another, each from its own trials, at 95%.

    Args:
        now_right: Successes now.
        now_tried: Trials now.
        then_right: Successes before.
        then_tried: Trials before.

    Returns:
        Bounds of (share now - share before), in [-1, 1]; with no trials on a side, wide.

    Raises:
        ValueError: A count is out of its range.

    Source: newcombe1998b, method 10 (hybrid score).
    """
    now, then = wilson(now_right, now_tried), wilson(then_right, then_tried)
    p = now_right / now_tried if now_tried else 0.5
    q = then_right / then_tried if then_tried else 0.5
    return Interval(
        low=p - q - math.hypot(p - now.low, then.high - q),
        high=p - q + math.hypot(now.high - p, q - then.low),
    )
