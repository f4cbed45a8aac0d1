"""Share a whole number out in whole numbers, so that the parts add up exactly."""

from collections.abc import Hashable, Mapping, Sequence
from fractions import Fraction
from typing import TypeVar

Key = TypeVar("Key", bound="Hashable")


def largest_remainder(total: int, weights: Sequence[float]) -> tuple[int, ...]:
    """Share `total` out in proportion to `weights`; the parts are whole and add up to it.

    Each part is its exact share rounded down; what is left goes to the largest remainders, a tie
    to the earlier. Computed in exact fractions. Raising `total` by one may lower a part (the
    Alabama paradox); nothing here relies on the contrary.

    Args:
        total: What there is to share, at least 0.
        weights: One for each part, at least 0; if all are 0 they count as equal.

    Returns:
        One part for each weight, in the same order; none for no weights.

    Raises:
        ValueError: The total or a weight is negative.

    Source: balinski1982, the method of Hamilton.
    """
    if total < 0 or any(weight < 0 for weight in weights):
        raise ValueError("a total and weights are at least 0")
    if not weights:
        return ()
    exact = [Fraction(weight) for weight in weights]
    whole = sum(exact)
    if not whole:
        exact, whole = [Fraction(1)] * len(exact), Fraction(len(exact))
    shares = [total * weight / whole for weight in exact]
    parts = [int(share) for share in shares]
    by_remainder = sorted(range(len(parts)), key=lambda i: (parts[i] - shares[i], i))
    for index in by_remainder[: total - sum(parts)]:
        parts[index] += 1
    return tuple(parts)


def share_out(total: int, weights: Mapping[Key, float], most: Mapping[Key, int]) -> dict[Key, int]:
    """Share `total` out by `weights`, to none more than it can take; what is over goes to others.

    Source: cochran1977, proportional allocation, with `largest_remainder` for whole numbers.
    """
    given = dict.fromkeys(most, 0)
    left = min(total, sum(most.values()))
    while left:
        room = [key for key in given if given[key] < most[key]]
        shares = largest_remainder(left, [weights.get(key, 0) for key in room])
        for key, share in zip(room, shares, strict=True):
            more = min(share, most[key] - given[key])
            given[key] += more
            left -= more
    return given
