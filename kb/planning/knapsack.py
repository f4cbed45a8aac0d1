"""Choose what fits into a limit and is worth most: the 0/1 knapsack, solved exactly."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray


def choose(costs: Sequence[int], values: Sequence[float], limit: int) -> tuple[int, ...]:
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
    if any(cost < 0 for cost in costs):
        raise ValueError("a cost is at least 0")
    places = _candidates(costs, values, limit)
    limit = min(limit, sum(costs[place] for place in places))
    most: NDArray[np.float64] = np.zeros(limit + 1)  # for every limit up to this one
    takes: list[NDArray[np.uint8]] = []
    for place in places:
        cost = costs[place]
        with_it = most[: limit + 1 - cost] + values[place]
        better = with_it > most[cost:]
        takes.append(np.packbits(better))
        most[cost:] = np.where(better, with_it, most[cost:])
    left = int(np.argmax(most))  # the first of the best, so the cheapest
    taken: list[int] = []
    for place, bits in zip(reversed(places), reversed(takes), strict=True):
        at = left - costs[place]
        if at >= 0 and bits[at // 8] >> (7 - at % 8) & 1:
            taken.append(place)
            left = at
    return tuple(sorted(taken))


def _candidates(costs: Sequence[int], values: Sequence[float], limit: int) -> list[int]:
    """Places worth looking at: of things with one cost, no more than fit, the best first."""
    by_cost: dict[int, list[int]] = {}
    for place, (cost, value) in enumerate(zip(costs, values, strict=True)):
        if value > 0 and cost <= limit:
            by_cost.setdefault(int(cost), []).append(place)
    kept: list[int] = []
    for cost, places in by_cost.items():
        places.sort(key=lambda place: (-values[place], place))
        kept += places[: limit // cost] if cost else places
    return sorted(kept)
