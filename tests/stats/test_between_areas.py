"""How far shares differ beyond chance, on two classic published sets."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.stats import beta, chi2_contingency

from kb.stats.between_areas import Spread, spread_between
from kb.stats.score_distribution import Part, part_distribution

# Source: Efron B, Morris C 1975, J Am Stat Assoc 70:311-319: hits in the first 45 at bats of 18
# batters.
HITS = (18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7)
# Source: Geissler's families of twelve in Saxony (Lindsey and Altham 1998, Appl Stat 47:149):
# families with 0 to 12 males.
SAXONY = (3, 24, 104, 286, 670, 1033, 1343, 1112, 829, 478, 181, 45, 7)


def test_the_strength_fitted_to_the_batters() -> None:
    """Moments give 367.988. Source: Kleinman 1973 for the form; confirmed with numpy."""
    spread = spread_between(HITS, [45] * 18)
    assert spread is not None
    assert spread.strength == pytest.approx(367.988, abs=0.01)


def test_the_likelihood_of_the_batters() -> None:
    """-log L is 45.34390 at mean .26543 and strength 793. Source: confirmed with scipy."""
    pmf = part_distribution(Part(item_count=45, mean=0.26543, strength=793.0))[0]
    assert -sum(math.log(pmf[x]) for x in HITS) == pytest.approx(45.34390, abs=0.001)


def test_the_beta_binomial_fitted_to_families_of_twelve() -> None:
    """Moments give 34.0950 and 31.5714 with the variance divided by n - 1, by numpy; by n they are
    34.1350 and 31.6085. Source: see SAXONY; fitted values from memory, confirmed.
    """
    counts = [x for x, families in enumerate(SAXONY) for _ in range(families)]
    spread = spread_between(counts, [12] * len(counts))
    assert spread is not None
    shares = np.array(counts) / 12
    for divisor, shapes in ((1, (34.0950, 31.5714)), (0, (34.1350, 31.6085))):
        mean, variance = shares.mean(), shares.var(ddof=divisor)
        strength = 11 / (12 * variance / (mean * (1 - mean)) - 1) - 1
        assert (mean * strength, (1 - mean) * strength) == pytest.approx(shapes, abs=1e-4)
    fitted = (spread.mean * spread.strength, (1 - spread.mean) * spread.strength)
    assert fitted == pytest.approx((34.0950, 31.5714), abs=1e-4)


def test_expected_families_and_aic() -> None:
    """Expected counts to .2; AIC 24989.74 against 25070.34 for the binomial. Source: see SAXONY."""
    alpha, beta = 34.1350, 31.6085
    part = Part(item_count=12, mean=alpha / (alpha + beta), strength=alpha + beta)
    pmf = part_distribution(part)[0]
    expected = (2.3, 22.6, 104.8, 310.8, 655.7, 1036.3, 1258.1, 1182.2)
    expected += (853.6, 461.9, 177.8, 43.8, 5.2)
    assert 6115 * pmf == pytest.approx(np.array(expected), abs=0.2)
    flat = part_distribution(Part(item_count=12, mean=0.519215, strength=math.inf))[0]
    aic = 4 - 2 * sum(n * math.log(p) for n, p in zip(SAXONY, pmf, strict=True))
    plain = 2 - 2 * sum(n * math.log(p) for n, p in zip(SAXONY, flat, strict=True))
    assert aic == pytest.approx(24989.74, abs=0.05)
    assert plain == pytest.approx(25070.34, abs=0.05)


def test_areas_that_differ_by_chance_only_have_no_spread() -> None:
    """Equal shares leave nothing to explain."""
    spread = spread_between([5, 5, 5, 5], [10, 10, 10, 10])
    assert spread is not None
    assert spread.sd_fraction == 0.0


@pytest.mark.parametrize(("apart", "beyond"), [(7, False), (8, True)])
def test_a_difference_that_chance_makes_once_in_ten_is_beyond_it(apart: int, beyond: bool) -> None:
    """Three areas of 100 with 60 - x, 60 and 60 + x right, by Pearson's chi-squared.

    Source: scipy.stats.chi2_contingency.
    """
    right = [60 - apart, 60, 60 + apart]
    spread = spread_between(right, [100] * 3)
    assert spread is not None
    assert spread.beyond_chance == beyond
    p = chi2_contingency([right, [100 - x for x in right]])[1]
    assert (p < 0.1) == beyond


def test_too_little_says_nothing() -> None:
    """Two areas, or nothing right at all."""
    assert spread_between([1, 2], [3, 4]) is None
    assert spread_between([0, 0, 0], [3, 4, 5]) is None


def test_the_standard_deviation_between_areas() -> None:
    """That of Beta(6.5, 3.5). Source: scipy.stats.beta."""
    assert Spread(mean=0.65, strength=10.0, beyond_chance=True).sd_fraction == pytest.approx(
        beta(6.5, 3.5).std()
    )


@pytest.mark.parametrize(
    ("right", "tried"),
    [([3, 4], [10, 10]), ([0, 0, 0], [9, 8, 7]), ([9, 8, 7], [9, 8, 7]), ([1, 2, 3], [4, 4, 0])],
)
def test_two_areas_or_equal_ones_say_nothing(right: list[int], tried: list[int]) -> None:
    """Nor does an area without answers count as a third."""
    assert spread_between(right, tried) is None


@pytest.mark.parametrize(
    ("right", "tried"),
    [([10, 8, 6], [16, 16, 16]), ([1, 0, 0], [1, 1, 1]), ([1, 0, 0, 1, 0], [1, 1, 1, 1, 1])],
)
def test_areas_that_differ_exactly_as_chance_makes_them_have_no_spread(
    right: list[int], tried: list[int]
) -> None:
    """By hand: 16 (1/64 + 0 + 1/64) / (1/4) = 2, chi-squared's mean with two degrees of freedom.
    Areas of one answer each can say nothing.
    """
    spread = spread_between(right, tried)
    assert spread is not None
    assert spread.strength == math.inf
    assert not spread.beyond_chance


def test_areas_of_one_answer_but_for_one_have_a_strength() -> None:
    """By hand: 4, 0 and 0 right of 4, 1 and 1: mean 2/3, observed (4/9 + 8/9) / (2/9) = 6, reach
    6 - 18/6 = 3, share (6 - 2) / (3 - 2) above 1, so that nothing holds the areas together.
    """
    spread = spread_between([4, 0, 0], [4, 1, 1])
    assert spread is not None
    assert (spread.mean, spread.strength) == (pytest.approx(2 / 3), 0.0)
    assert spread.beyond_chance
