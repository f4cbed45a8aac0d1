"""Counts that fade: each new answer makes the earlier ones count a little less."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

SPAN_IN_HALF_LIVES = 200.0


def faded_sums(
    values: NDArray[np.float64], weights: NDArray[np.float64], half_life: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Running counts in which evidence older by `half_life` counts half.

    The clock runs in evidence, not in time: an answer of weight 1 is one tick. An answer of weight
    w counts (1 - f**w) / (1 - f), where f is the fading in one tick, so that the total does not
    depend on how the same evidence is divided into answers.

    Args:
        values: 1 for right and 0 for wrong, oldest first.
        weights: Evidence in each value, at least 0; 1 for a full answer, and never far above.
        half_life: In ticks; infinite for counts that never fade.

    Returns:
        (faded sum of values, faded number), each one longer than `values`: entry i is before value
        i, the last entry after all.

    Source: own, because it is exponential forgetting with unequal weights.
    """
    count = len(values)
    total, number = np.zeros(count + 1), np.zeros(count + 1)
    if math.isinf(half_life):
        np.cumsum(values * weights, out=total[1:])
        np.cumsum(weights, out=number[1:])
        return total, number
    fade = 0.5 ** (1.0 / half_life)
    amounts = (1.0 - fade**weights) / (1.0 - fade)
    clock = np.cumsum(weights) / half_life
    start, begin = 0, 0.0
    while start < count:
        stop = int(np.searchsorted(clock, begin + SPAN_IN_HALF_LIVES, side="right"))
        grown = np.exp2(clock[start:stop] - begin)
        for sums, each in ((total, values * amounts), (number, amounts)):
            added = np.cumsum(each[start:stop] * grown)
            sums[start + 1 : stop + 1] = (sums[start] + added) / grown
        start, begin = stop, float(clock[stop - 1])
    return total, number
