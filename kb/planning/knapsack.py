"""Choose what fits into a limit and is worth most: the 0/1 knapsack, solved exactly."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray


HAIR = 1e-9
"""Sums of values may differ by so much for rounding alone."""


def choose(
    costs: Sequence[int] | NDArray[np.int64],
    values: Sequence[float] | NDArray[np.float64],
    limit: int,
) -> tuple[int, ...]:
    """The places of the things to take so that their values add up to the most.

    Args:
        costs: What each costs, whole numbers, at least 0.
        values: What each is worth; those not above 0 are never taken.
        limit: What may be spent.

    Returns:
        Places in rising order. Of choices worth the same, the cheaper one; the same every time.

    Raises:
        ValueError: A cost is negative, or the two lists differ in length.

    Source: nemhauser1969, dynamic programming over a table of costs.
    """
    if len(costs) != len(values):
        raise ValueError("each cost belongs to one value")
    cost, value = np.asarray(costs, dtype=np.int64), np.asarray(values, dtype=np.float64)
    if (cost < 0).any():
        raise ValueError("a cost is at least 0")
    places = _worth_trying(cost, value, limit)
    limit = min(limit, int(cost[places].sum()))
    most: NDArray[np.float64] = np.zeros(limit + 1)  # for every limit up to this one
    takes: list[NDArray[np.uint8]] = []
    for place in places:
        with_it = most[: limit + 1 - cost[place]] + value[place]
        better = with_it > most[cost[place] :]
        takes.append(np.packbits(better))
        most[cost[place] :] = np.where(better, with_it, most[cost[place] :])
    left = int(np.argmax(most))  # the first of the best, so the cheapest
    taken: list[int] = []
    for place, bits in zip(reversed(places), reversed(takes), strict=True):
        at = left - int(cost[place])
        if at >= 0 and bits[at // 8] >> (7 - at % 8) & 1:
            taken.append(int(place))
            left = at
    return tuple(sorted(taken))


def _worth_trying(
    cost: NDArray[np.int64], value: NDArray[np.float64], limit: int
) -> NDArray[np.intp]:
    """Places that the best choice may hold, in rising order.

    Of things with one cost, no more than fit, the best first. Taking the most worth for its cost
    as long as it fits gives a floor: a thing goes when even with it, and with a part of the first
    thing that did not fit, the sum stays below that floor.
    """
    places = np.flatnonzero((value > 0) & (cost <= limit))
    places = places[np.lexsort((places, -value[places], cost[places]))]
    rank = np.arange(len(places)) - np.searchsorted(cost[places], cost[places])
    places = np.sort(places[(rank + 1) * cost[places] <= limit])
    if cost[places].sum() <= limit:
        return places
    ratio = value[places] / np.maximum(cost[places], HAIR)
    order = places[np.lexsort((places, -ratio))]
    first_out = int(np.searchsorted(np.cumsum(cost[order]), limit, side="right"))
    floor = float(value[order[:first_out]].sum())
    room = limit - int(cost[order[:first_out]].sum())
    rate = float(value[order[first_out]] / cost[order[first_out]])
    most = floor + room * rate
    with_it = most - np.maximum(0.0, cost[places] * rate - value[places])
    return places[with_it >= floor - HAIR * max(1.0, floor)]
