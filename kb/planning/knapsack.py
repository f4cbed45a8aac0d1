"""Choose what fits into a limit and is worth most: the 0/1 knapsack, solved exactly."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

DENSE = 20_000_000
"""Cells of the table, up to which it is made; beyond it would take too much memory."""


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

    Source: nemhauser1969, dynamic programming: over a table of costs where it is small enough,
    else over the choices that no other beats in both cost and value.
    """
    if len(costs) != len(values):
        raise ValueError("each cost belongs to one value")
    if any(cost < 0 for cost in costs):
        raise ValueError("a cost is at least 0")
    places = _candidates(costs, values, limit)
    if len(places) * (limit + 1) <= DENSE:
        return _by_table(costs, values, limit, places)
    return _by_choices(costs, values, limit, places)


def _by_table(
    costs: Sequence[int], values: Sequence[float], limit: int, places: Sequence[int]
) -> tuple[int, ...]:
    """The most for every limit up to this one, thing by thing: quickest for minutes of reading."""
    most: NDArray[np.float64] = np.zeros(limit + 1)
    takes: list[NDArray[np.bool_]] = []
    for place in places:
        cost = costs[place]
        with_it = most[: limit + 1 - cost] + values[place]
        better = with_it > most[cost:]
        takes.append(better)
        most[cost:] = np.where(better, with_it, most[cost:])
    at = int(np.argmax(most))  # the first of the best, so the cheapest
    taken: list[int] = []
    for place, better in zip(reversed(places), reversed(takes), strict=True):
        if at >= costs[place] and better[at - costs[place]]:
            taken.append(place)
            at -= costs[place]
    return tuple(sorted(taken))


def _by_choices(
    costs: Sequence[int], values: Sequence[float], limit: int, places: Sequence[int]
) -> tuple[int, ...]:
    """Only the choices that no other beats: whatever the limit, as long as they are not many."""
    spent: NDArray[np.int64] = np.zeros(1, dtype=np.int64)
    worth: NDArray[np.float64] = np.zeros(1)
    steps: list[NDArray[np.int64]] = []
    for place in places:
        spent, worth, parents = _with_one_more(spent, worth, costs[place], values[place], limit)
        steps.append(parents)
    at = len(worth) - 1
    taken: list[int] = []
    for place, parents in zip(reversed(places), reversed(steps), strict=True):
        parent = int(parents[at])
        if parent < 0:
            taken.append(place)
            at = -parent - 1
        else:
            at = parent
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


def _with_one_more(
    spent: NDArray[np.int64],
    worth: NDArray[np.float64],
    cost: int,
    value: float,
    limit: int,
) -> tuple[NDArray[np.int64], NDArray[np.float64], NDArray[np.int64]]:
    """The unbeaten choices once one more thing may be taken, cheapest first.

    A parent is the place of the choice it came from; -1 - place when the thing was added to it.
    """
    room = int(np.searchsorted(spent, limit - cost, side="right"))
    all_spent = np.concatenate((spent, spent[:room] + cost))
    all_worth = np.concatenate((worth, worth[:room] + value))
    parents = np.concatenate((np.arange(len(spent)), -1 - np.arange(room)))
    order = np.lexsort((-all_worth, all_spent))
    best = np.maximum.accumulate(all_worth[order])
    better = np.concatenate(([True], best[1:] > best[:-1]))
    kept = order[better]
    return all_spent[kept], all_worth[kept], parents[kept]
