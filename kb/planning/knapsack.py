"""Choose what fits into a limit and is worth most: the 0/1 knapsack, solved exactly."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray


HAIR = 1e-9
"""Sums of values may differ by so much for rounding alone."""
NEAR = 12
"""Things on either side of the first that does not fit: their best choice is a good floor."""


def choose(
    costs: Sequence[int] | NDArray[np.int64],
    values: Sequence[float] | NDArray[np.float64],
    limit: int,
    order: NDArray[np.intp] | None = None,
) -> tuple[int, ...]:
    """The places of the things to take so that their values add up to the most.

    Args:
        costs: What each costs, a whole number, at least 0.
        values: What each is worth; those not above 0 are never taken.
        limit: What may be spent.
        order: All places by `by_worth`, where that is known already.

    Returns:
        Places in rising order. Of choices worth the same, the cheaper one; the same every time.

    Source: nemhauser1969, dynamic programming over a table of costs.
    """
    cost, value = np.asarray(costs, dtype=np.int64), np.asarray(values, dtype=np.float64)
    sure, open_places = _narrowed(
        cost, value, limit, by_worth(cost, value) if order is None else order
    )
    left = limit - int(cost[sure].sum())
    return tuple(sorted([*sure.tolist(), *_best(cost, value, left, open_places)]))


def by_worth(cost: NDArray[np.int64], value: NDArray[np.float64]) -> NDArray[np.intp]:
    """The places by worth for the cost, best first."""
    return np.argsort(-value / np.maximum(cost, HAIR), kind="stable")


def _best(
    cost: NDArray[np.int64], value: NDArray[np.float64], limit: int, places: NDArray[np.intp]
) -> list[int]:
    """Those of `places`, in rising order, that are worth most within the limit."""
    limit = min(limit, int(cost[places].sum()))
    most: NDArray[np.float64] = np.zeros(limit + 1)  # for every limit up to this one
    takes: list[NDArray[np.bool_]] = []
    for place in places:
        with_it = most[: limit + 1 - cost[place]] + value[place]
        takes.append(with_it > most[cost[place] :])
        most[cost[place] :] = np.where(takes[-1], with_it, most[cost[place] :])
    left = int(np.argmax(most))  # the first of the best, so the cheapest
    taken: list[int] = []
    for place, better in zip(reversed(places), reversed(takes), strict=True):
        at = left - int(cost[place])
        if at >= 0 and better[at]:
            taken.append(int(place))
            left = at
    return taken


def _narrowed(
    cost: NDArray[np.int64], value: NDArray[np.float64], limit: int, order: NDArray[np.intp]
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The places that every best choice holds, and in rising order those that one may hold.

    Things are taken by their worth for their cost until one does not fit. With a part of that one
    this gives a ceiling, and with the best choice among the few before and after it a floor. A
    thing is sure to be in, or out, when the other way would bring the ceiling below the floor. Of
    those left with one cost, no more than fit are tried, the best first.
    """
    fitting = (value > 0) & (cost <= limit)
    places, order = np.flatnonzero(fitting), order[fitting[order]]
    first_out = int(np.searchsorted(np.cumsum(cost[order]), limit, side="right"))
    inside, outside = order[:first_out], order[first_out:]
    if not outside.size or (value[places] == value[places[0]]).all():
        return inside, outside[:0]
    room = limit - int(cost[inside].sum())
    rate = float(value[outside[0]] / cost[outside[0]])
    near = np.sort(np.concatenate((inside[-NEAR:], outside[:NEAR])))
    chosen = _best(cost, value, room + int(cost[inside[-NEAR:]].sum()), near)
    short = value[inside[-NEAR:]].sum() + room * rate - value[chosen].sum()
    decided = np.abs(cost * rate - value) > short + HAIR * max(1.0, float(value[inside].sum()))
    sure, tried = inside[decided[inside]], places[~decided[places]]
    tried = tried[np.lexsort((tried, -value[tried], cost[tried]))]
    rank = np.arange(len(tried)) - np.searchsorted(cost[tried], cost[tried])
    return sure, np.sort(tried[(rank + 1) * cost[tried] <= limit - cost[sure].sum()])
