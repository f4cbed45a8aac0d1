"""When to look at a note again, from the time left to the exam."""

import math
from bisect import bisect_left
from itertools import pairwise

BEST_GAPS = ((7.0, 3.0), (35.0, 8.0), (70.0, 12.0), (350.0, 27.0))
"""(days from the second look to the test, best days between the looks)."""


def best_gap_days(retention_days: float) -> float:
    """The best gap between two looks when the test follows `retention_days` after the second.

    Straight lines between the published points on logarithmic axes; below the first point the
    gap is 43% of the time, above the last the last line goes on.

    Args:
        retention_days: Days from the second look to the test, at least 0.

    Returns:
        Days, at least 0.

    Source: cepeda2006 for spacing as such; cepeda2008 for the best gaps, 3, 8, 12 and 27 days for
    7, 35, 70 and 350 days.
    """
    first, last = BEST_GAPS[0], BEST_GAPS[-1]
    if retention_days <= first[0]:
        return max(0.0, retention_days) * first[1] / first[0]
    pairs = list(pairwise(BEST_GAPS))
    low, high = next((p for p in pairs if retention_days <= p[1][0]), (BEST_GAPS[-2], last))
    slope = math.log(high[1] / low[1]) / math.log(high[0] / low[0])
    return low[1] * math.exp(slope * math.log(retention_days / low[0]))


def next_look_days(days_left: int) -> int:
    """Days from the last look to the next, at least 1, when the exam is `days_left` after the last:
    the gap and the days from then to the exam add up to the days left.

    Source: cepeda2008.
    """
    whole = float(days_left)

    def days(percent: int) -> float:
        return percent / 100 + best_gap_days(percent / 100)

    return max(1, round(best_gap_days(bisect_left(range(100 * days_left), whole, key=days) / 100)))
