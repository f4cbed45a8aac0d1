"""Scores add up from areas, exactly."""

from __future__ import annotations

import math

import numpy as np
import pytest
import scipy.stats

from kb.stats.forecast import least_right, pass_fraction
from kb.stats.score_distribution import (
    Part,
    at_least,
    crps,
    mean_score,
    part_distribution,
    quantile,
    score_distributions,
)


def known(*chances: float, item_count: int = 1) -> np.ndarray:
    """The score over parts whose chances are known exactly."""
    parts = [Part(item_count=item_count, mean=p, strength=math.inf) for p in chances]
    return score_distributions(parts)[0]


def test_beta_binomial_of_ten() -> None:
    """Ten items under Beta(9, 5) follow the conjugate predictive. Source: textbook, scipy."""
    pmf = part_distribution(Part(item_count=10, mean=9 / 14, strength=14.0))[0]
    expected = [0.000875, 0.005625, 0.019470, 0.047593, 0.090860, 0.141742]
    expected += [0.183739, 0.196864, 0.168740, 0.106244, 0.038248]
    assert pmf == pytest.approx(expected, abs=1e-6)
    assert pmf == pytest.approx(scipy.stats.betabinom.pmf(range(11), 10, 9, 5), abs=1e-12)
    assert mean_score(pmf) == pytest.approx(6.428571, abs=1e-6)


def test_a_flat_prior_makes_every_score_alike() -> None:
    """Under Beta(1, 1) each of 21 scores is equally probable. Source: scipy's own tests."""
    pmf = part_distribution(Part(item_count=20, mean=0.5, strength=2.0))[0]
    assert pmf == pytest.approx([1 / 21] * 21, abs=1e-12)


def test_unequal_items_as_in_hong() -> None:
    """Inputs: Hong 2013 Comput Stat Data Anal 59:41-51; outputs by exact rational convolution."""
    pmf = known(0.1, 0.1, 0.2, 0.2, 0.3, 0.3, 0.4, 0.4, 0.5, 0.5)
    expected = [0.02286144, 0.11231136, 0.23694372, 0.28171848, 0.20829484, 0.09968032]
    expected += [0.03113484, 0.00623848, 0.00076372, 0.00005136, 0.00000144]
    assert pmf == pytest.approx(expected, abs=1e-12)
    assert mean_score(pmf) == pytest.approx(3.0, abs=1e-9)


def test_unequal_items_as_in_r() -> None:
    """Source: R poisbinom::dpoisbinom, in scipy's test_discrete_distns.py."""
    pmf = known(0.9480654803913988, 0.052428488100509374, 0.25863527358887417, 0.057764076043633206)
    expected = [0.0343763443678060, 0.6435428452689714, 0.2936345519235537]
    expected += [0.0277036647503902, 0.0007425936892786]
    assert pmf == pytest.approx(expected, rel=1e-7)


def test_a_blueprint_of_five_areas() -> None:
    """Five areas of 40 items: mean, spread and tails. Derived, and confirmed with scipy."""
    pmf = known(0.75, 0.70, 0.65, 0.60, 0.55, item_count=40)
    assert mean_score(pmf) == pytest.approx(130, abs=1e-6)
    spread = math.sqrt(pmf @ (np.arange(201) - 130) ** 2)
    assert spread == pytest.approx(6.670832, abs=1e-6)
    tails = [at_least(pmf, cut) for cut in (120, 130, 140)]
    assert tails == pytest.approx([0.941185, 0.532700, 0.076003], abs=1e-6)


def test_guessing_two_hundred_items() -> None:
    """Binomial(200, 1/5): centiles and tails. Confirmed with scipy."""
    pmf = known(0.2, item_count=200)
    assert (quantile(pmf, 0.95), quantile(pmf, 0.99)) == (49, 54)
    assert at_least(pmf, 50) == pytest.approx(0.049353, abs=1e-6)
    assert at_least(pmf, 60) == pytest.approx(0.000498, abs=1e-6)


def test_crps_of_a_certain_forecast_is_its_distance() -> None:
    """A forecast sure of 3 is 2 items off when 5 came. Source: gneiting2007, point forecasts."""
    assert crps(np.eye(10)[3], 5) == pytest.approx(2.0)


def test_an_unsure_pass_mark_draws_the_chance_towards_even() -> None:
    """A forecast well above a mark that is not sure passes less surely than above a known one."""
    pmf = known(0.7, item_count=100)
    assert 0.5 < pass_fraction(pmf, 0.65, 0.05) < pass_fraction(pmf, 0.65)


def test_a_known_pass_mark_counts_whole_items() -> None:
    """With no doubt about the mark the chance is the tail from the mark on."""
    pmf = known(0.65, item_count=200)
    assert pass_fraction(pmf, 0.65) == pytest.approx(0.532470, abs=1e-6)


@pytest.mark.parametrize(("mark", "least"), [(0.0, 0), (0.602, 121), (0.65, 130), (1.0, 200)])
def test_a_pass_mark_between_two_items_asks_for_the_next_one(mark: float, least: int) -> None:
    """Of 200 items 120.4 are needed: 120 do not reach the mark."""
    assert least_right(200, mark) == least


def test_an_unsure_mark_passes_as_often_as_it_lies_below_the_score() -> None:
    """130 of 200 for sure, mark 60% with SD 5: one SD above, .841345. Source: the normal table."""
    sure = np.eye(201)[130]
    assert pass_fraction(sure, 0.60, 0.05) == pytest.approx(0.841345, abs=1e-6)
    assert pass_fraction(sure, 0.60) == 1.0
    assert pass_fraction(sure, 0.651) == 0.0


def test_spread_and_shape_of_known_distributions() -> None:
    """Beta(9, 5) of ten has variance 3.673469, Beta(2, 3) of ten excess kurtosis -.690476 (the
    latter from scipy's own tests); Hong's ten items have variance 1.9.
    """

    def moment(pmf: np.ndarray, power: int) -> float:
        return float(pmf @ (np.arange(len(pmf)) - mean_score(pmf)) ** power)

    nine_five = part_distribution(Part(item_count=10, mean=9 / 14, strength=14.0))[0]
    assert moment(nine_five, 2) == pytest.approx(3.673469, abs=1e-6)
    two_three = part_distribution(Part(item_count=10, mean=0.4, strength=5.0))[0]
    kurtosis = moment(two_three, 4) / moment(two_three, 2) ** 2 - 3
    assert kurtosis == pytest.approx(-0.690476, abs=1e-6)
    hong = known(0.1, 0.1, 0.2, 0.2, 0.3, 0.3, 0.4, 0.4, 0.5, 0.5)
    assert moment(hong, 2) == pytest.approx(1.9, abs=1e-9)


def test_guessing_by_chance_of_one_and_of_two_papers() -> None:
    """100 items: 20 with SD 4; 200 items: 40 with SD 5.656854. Source: Binomial(n, 1/5)."""
    for count, mean, sd in ((100, 20, 4.0), (200, 40, 5.656854)):
        pmf = known(0.2, item_count=count)
        assert mean_score(pmf) == pytest.approx(mean)
        spread = math.sqrt(pmf @ (np.arange(count + 1) - mean) ** 2)
        assert spread == pytest.approx(sd, abs=1e-6)


def test_a_paper_without_items_has_one_score() -> None:
    """Nought, for certain; a part without items changes nothing."""
    none = Part(item_count=0, mean=0.5, strength=10.0)
    assert score_distributions([none])[0] == pytest.approx([1.0])
    one = Part(item_count=1, mean=0.25, strength=10.0)
    assert score_distributions([none, one])[0] == pytest.approx([0.75, 0.25])


def test_a_share_is_reached_at_the_score_that_brings_it() -> None:
    """A half, a quarter and a quarter: half is reached by nought, three quarters by one."""
    pmf = np.array([0.5, 0.25, 0.25])
    assert [quantile(pmf, share) for share in (0.1, 0.5, 0.51, 0.75, 0.76)] == [0, 0, 1, 1, 2]


@pytest.mark.parametrize(("cut", "share"), [(-1, 1.0), (0, 1.0), (1, 0.75), (2, 0.25), (3, 0.0)])
def test_a_score_of_at_least_so_much_includes_it(cut: int, share: float) -> None:
    """A quarter nought, a half one, a quarter two; whatever is below nought is reached by all."""
    assert at_least(np.array([0.25, 0.5, 0.25]), cut) == share
