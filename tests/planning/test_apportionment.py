"""Largest remainders against published splits."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.planning.apportionment import largest_remainder, share_out

HOUSE_1790 = (
    *(630560, 475327, 432879, 353523, 331589, 278514, 236841, 206236),
    *(179570, 141822, 85533, 70835, 68705, 68446, 55540),
)


@pytest.mark.parametrize(
    ("total", "weights", "parts"),
    [
        # The standard worked example of the method (47,000 votes, 10 seats).
        (10, (47000, 16000, 15900, 12000, 6000, 3100), (5, 2, 1, 1, 1, 0)),
        # The Alabama paradox: two parts lose when the total rises.
        (25, (1500, 1500, 900, 500, 500, 200), (7, 7, 4, 3, 3, 1)),
        (26, (1500, 1500, 900, 500, 500, 200), (8, 8, 5, 2, 2, 1)),
        # Worked by hand in exact fractions; a tie goes to the earlier.
        (200, (15, 13, 12, 11, 10, 9, 8, 7, 6, 5, 4), (30, 26, 24, 22, 20, 18, 16, 14, 12, 10, 8)),
        (200, (1, 1, 1), (67, 67, 66)),
        (200, (1,) * 7, (29, 29, 29, 29, 28, 28, 28)),
        (6, (14, 14, 14, 18), (2, 1, 1, 2)),
        # The House of 1790 with 120 seats (Balinski & Young 1982; figures from memory).
        (
            120,
            HOUSE_1790,
            (21, 16, 14, 12, 11, 9, 8, 7, 6, 5, 3, 2, 2, 2, 2),
        ),
    ],
)
def test_published_splits(total: int, weights: tuple[int, ...], parts: tuple[int, ...]) -> None:
    """The split is the one that the published example gives."""
    assert largest_remainder(total, weights) == parts


@given(st.integers(0, 6000), st.lists(st.floats(0, 1e6), min_size=1, max_size=20))
def test_parts_add_up_and_stay_within_one_of_their_share(total: int, weights: list[float]) -> None:
    """Parts add up exactly, and none is a whole one away from its exact share."""
    parts = largest_remainder(total, weights)
    whole = sum(weights)
    assert sum(parts) == total
    if whole:
        shares = [total * weight / whole for weight in weights]
        assert all(abs(p - s) < 1 + 1e-6 for p, s in zip(parts, shares, strict=True))


def test_no_weights_and_all_zero() -> None:
    """No weights give no parts; weights of 0 count as equal."""
    assert largest_remainder(5, ()) == ()
    assert largest_remainder(5, (0, 0)) == (3, 2)


def test_a_negative_weight_is_refused() -> None:
    """A negative weight has no meaning."""
    with pytest.raises(ValueError, match="at least 0"):
        largest_remainder(5, (1, -1))


@pytest.mark.parametrize(
    ("total", "given"),
    [
        (2, {"a": 2, "b": 0, "c": 0}),
        (4, {"a": 2, "b": 2, "c": 0}),
        (5, {"a": 2, "b": 3, "c": 0}),
        (7, {"a": 2, "b": 3, "c": 2}),
        (99, {"a": 2, "b": 3, "c": 4}),
    ],
)
def test_what_a_part_cannot_take_goes_to_the_others(total: int, given: dict[str, int]) -> None:
    """By hand: by weight 3 to 1 while there is room; a part without a weight comes last."""
    most = {"a": 2, "b": 3, "c": 4}
    assert share_out(total, {"a": 3, "b": 1}, most) == given
