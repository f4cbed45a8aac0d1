"""How far shares differ beyond chance, on two classic published sets."""

from __future__ import annotations

import math

import numpy as np
import pytest

from kb.stats.between_areas import spread_between
from kb.stats.score_distribution import Part, part_distribution

# Source: Efron B, Morris C 1975, J Am Stat Assoc 70:311-319: hits in the first 45 at bats of 18
# batters, and their share over the rest of the season.
HITS = (18, 17, 16, 15, 14, 14, 13, 12, 11, 11, 10, 10, 10, 10, 10, 9, 8, 7)
REST = (
    *(0.346, 0.298, 0.276, 0.222, 0.273, 0.270, 0.263, 0.210, 0.269),
    *(0.230, 0.264, 0.256, 0.303, 0.264, 0.226, 0.285, 0.316, 0.200),
)
# Source: Geissler's families of twelve in Saxony (Lindsey and Altham 1998, Appl Stat 47:149):
# families with 0 to 12 males.
SAXONY = (3, 24, 104, 286, 670, 1033, 1343, 1112, 829, 478, 181, 45, 7)


def test_the_strength_fitted_to_the_batters() -> None:
    """Moments give 367.988, and so .280095 for 18 of 45 and .253460 for 7. Source: Kleinman 1973
    as to form; the figures were confirmed with numpy, not published.
    """
    spread = spread_between(HITS, [45] * 18)
    assert spread is not None
    assert spread.strength == pytest.approx(367.988, abs=0.01)
    assert spread.shrunk(18, 45) == pytest.approx(0.280095, abs=1e-6)
    assert spread.shrunk(7, 45) == pytest.approx(0.253460, abs=1e-6)


def test_shrinking_pays_on_the_batters() -> None:
    """The plain shares are off by .0753 in squares, the shrunk ones by less than a third.

    Source: Efron and Morris 1977, Sci Am 236(5):119-127, about 3.5 times.
    """
    spread = spread_between(HITS, [45] * 18)
    assert spread is not None
    plain = sum((x / 45 - y) ** 2 for x, y in zip(HITS, REST, strict=True))
    shrunk = sum((spread.shrunk(x, 45) - y) ** 2 for x, y in zip(HITS, REST, strict=True))
    assert plain == pytest.approx(0.0753, abs=0.001)
    assert shrunk < plain / 3


def test_shrinking_does_as_well_as_the_published_estimators() -> None:
    """Ours is off by no more in squares than either of the two in print, whose figures come out
    first: c = .212, which makes .294 of .400; on the arcsine scale 17.57 before and 5.00 after.

    Source: Efron and Morris 1977, Sci Am 236(5):119-127 (c, by its formula 1 - (k - 3) s2 / S),
    and 1975, J Am Stat Assoc 70:311-319 (paper 17.56 and 5.01; the last digit by numpy).
    """
    shares, rest = np.array(HITS) / 45, np.array(REST)
    mean = shares.mean()
    c = 1 - 15 * mean * (1 - mean) / 45 / ((shares - mean) ** 2).sum()
    assert c == pytest.approx(0.211653, abs=1e-6)
    plain_formula = mean + c * (shares - mean)
    assert (plain_formula[0], plain_formula[-1]) == pytest.approx((0.294, 0.242), abs=5e-4)

    x, delta = (math.sqrt(45) * np.arcsin(2 * y - 1) for y in (shares, rest))
    keep = 1 - 15 / ((x - x.mean()) ** 2).sum()
    arcsine = x.mean() + keep * (x - x.mean())
    assert ((x - delta) ** 2).sum() == pytest.approx(17.57, abs=0.02)
    assert ((arcsine - delta) ** 2).sum() == pytest.approx(5.00, abs=0.02)

    spread = spread_between(HITS, [45] * 18)
    assert spread is not None
    ours = np.array([spread.shrunk(hits, 45) for hits in HITS])
    back = (np.sin(arcsine / math.sqrt(45)) + 1) / 2
    ours_off, formula_off, arcsine_off = (
        ((y - rest) ** 2).sum() for y in (ours, plain_formula, back)
    )
    assert ours_off < 1.05 * min(formula_off, arcsine_off)


def test_the_likelihood_of_the_batters() -> None:
    """-log L is 45.34390 at mean .26543 and strength 793. Source: confirmed with scipy."""
    pmf = part_distribution(Part(item_count=45, mean=0.26543, strength=793.0))[0]
    assert -sum(math.log(pmf[x]) for x in HITS) == pytest.approx(45.34390, abs=0.001)


def test_the_beta_binomial_fitted_to_families_of_twelve() -> None:
    """Moments give 34.135 and 31.6085. Source: see SAXONY; fitted values from memory, confirmed."""
    counts = [x for x, families in enumerate(SAXONY) for _ in range(families)]
    spread = spread_between(counts, [12] * len(counts))
    assert spread is not None
    assert spread.mean * spread.strength == pytest.approx(34.135, rel=2e-3)
    assert (1 - spread.mean) * spread.strength == pytest.approx(31.6085, rel=2e-3)


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
    assert spread.shrunk(9, 10) == 0.5


def test_too_little_says_nothing() -> None:
    """Two areas, or nothing right at all."""
    assert spread_between([1, 2], [3, 4]) is None
    assert spread_between([0, 0, 0], [3, 4, 5]) is None
