"""Intervals for one share and for a change of shares equal the published ones."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import confint_proportions_2indep, proportion_confint

from kb.stats.proportions import Interval, newcombe_change, wilson


def bounds(interval: Interval) -> tuple[float, float]:
    """Low and high."""
    return interval.low, interval.high


@pytest.mark.parametrize(
    ("right", "tried", "low", "high"),
    [
        (81, 263, 0.255289, 0.366210),
        (15, 148, 0.062386, 0.160487),
        (0, 20, 0.0, 0.161125),
        (1, 29, 0.006113, 0.171755),
        (29, 29, 0.883030, 1.0),
    ],
)
def test_wilson_as_published(right: int, tried: int, low: float, high: float) -> None:
    """Source: Newcombe RG 1998, Stat Med 17:857-872, Table I, method 3, seen at second hand."""
    assert bounds(wilson(right, tried, level=0.95)) == pytest.approx((low, high), abs=1e-6)


@pytest.mark.parametrize(
    ("right", "tried", "low", "high"),
    [
        (18, 20, 0.698966354772, 0.972133518786),
        (4, 20, 0.080657662580, 0.416017432252),
        (4, 200, 0.007804426416, 0.050287086906),
    ],
)
def test_wilson_as_in_r(right: int, tried: int, low: float, high: float) -> None:
    """Source: R binom::binom.confint, stored among the test results of statsmodels."""
    assert bounds(wilson(right, tried, level=0.95)) == pytest.approx((low, high), abs=1e-6)


@pytest.mark.parametrize(
    ("right", "level", "low", "high"),
    [
        (3, 0.95, 0.1077913, 0.6032219),
        (0, 0.95, 0.0, 0.2775328),
        (10, 0.95, 0.7224672, 1.0),
        (3, 0.99, 0.07956632, 0.6799753),
    ],
)
def test_wilson_of_ten_as_in_r(right: int, level: float, low: float, high: float) -> None:
    """Source: R prop.test, in scipy's test_morestats.py (test_ci_wilson_method)."""
    assert bounds(wilson(right, 10, level=level)) == pytest.approx((low, high), abs=1e-6)


def test_bounds_never_leave_the_shares_there_are() -> None:
    """Source: statsmodels test_confint_proportion_wilson_clip."""
    assert wilson(38, 38).high == 1.0
    assert wilson(0, 77).low == 0.0
    expected = (0.348499283643951, 0.651500716356049)
    assert bounds(wilson(19, 38, level=0.95)) == pytest.approx(expected, abs=1e-12)


def test_nothing_tried_says_nothing() -> None:
    """0 of 0 gives the whole range, without an error. Source: convention in public tests."""
    assert bounds(wilson(0, 0)) == (0.0, 1.0)
    half = math.hypot(0.5, 0.5)  # from the middle of a range of 0 to 1, on both sides
    assert bounds(newcombe_change(0, 0, 0, 0)) == pytest.approx((-half, half))
    low, high = bounds(newcombe_change(0, 0, 5, 10))
    assert (low, high) == pytest.approx((-high, high))


@pytest.mark.parametrize(
    ("now", "then", "low", "high"),
    [
        ((56, 70), (48, 80), 0.0524, 0.3339),
        ((9, 10), (3, 10), 0.1705, 0.8090),
        ((6, 7), (2, 7), 0.0582, 0.8062),
        ((5, 56), (0, 29), -0.0381, 0.1926),
        ((0, 10), (0, 20), -0.1611, 0.2775),
        ((0, 10), (0, 10), -0.2775, 0.2775),
        ((10, 10), (0, 20), 0.6791, 1.0),
        ((10, 10), (0, 10), 0.6075, 1.0),
    ],
)
def test_a_change_of_shares_as_published(
    now: tuple[int, int], then: tuple[int, int], low: float, high: float
) -> None:
    """Source: Newcombe RG 1998, Stat Med 17:873-890, Table II, method 10, seen at second hand."""
    assert bounds(newcombe_change(*now, *then)) == pytest.approx((low, high), abs=5e-5)


@given(st.integers(0, 60), st.integers(0, 60), st.sampled_from([0.5, 0.8, 0.95]))
def test_intervals_agree_with_statsmodels(right: int, wrong: int, level: float) -> None:
    """Source: statsmodels proportion_confint."""
    tried = right + wrong
    if tried:
        expected = proportion_confint(right, tried, 1 - level, "wilson")
        assert bounds(wilson(right, tried, level=level)) == pytest.approx(expected, abs=1e-7)


@given(st.integers(0, 40), st.integers(1, 40), st.integers(0, 40), st.integers(1, 40))
def test_changes_agree_with_statsmodels(x: int, n: int, y: int, m: int) -> None:
    """Source: statsmodels confint_proportions_2indep, method newcomb."""
    x, y = min(x, n), min(y, m)
    low, high = confint_proportions_2indep(x, n, y, m, method="newcomb")
    assert bounds(newcombe_change(x, n, y, m)) == pytest.approx((low, high), abs=1e-7)


@given(st.integers(0, 30), st.integers(1, 30), st.integers(2, 6))
def test_an_interval_narrows_with_data(right: int, tried: int, factor: int) -> None:
    """The same share of more answers is known better."""
    right = min(right, tried)
    few, many = wilson(right, tried), wilson(right * factor, tried * factor)
    assert many.high - many.low < few.high - few.low


@pytest.mark.parametrize(
    ("right", "tried", "level"), [(3, 2, 0.9), (-1, 2, 0.9), (1, 2, 1.0), (1, 2, 0.0)]
)
def test_impossible_counts_are_refused(right: int, tried: int, level: float) -> None:
    """More right than tried, fewer than none, or certainty itself."""
    with pytest.raises(ValueError, match="lies"):
        wilson(right, tried, level=level)
