"""Exam statistics agree with published data, and with a second way of computing them."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from kb.stats.items import exam_statistic, items_for, standard_error

PATTERNS = [[int(bit) for bit in f"{number:05b}"] for number in range(32)]
SECTION_6 = [3, 6, 2, 11, 1, 1, 3, 4, 1, 8, 0, 16, 0, 3, 2, 15]
SECTION_6 += [10, 29, 14, 81, 3, 28, 15, 80, 16, 56, 21, 173, 11, 61, 28, 298]
SECTION_7 = [12, 19, 1, 7, 3, 19, 3, 17, 10, 5, 3, 7, 7, 23, 8, 28]
SECTION_7 += [7, 39, 11, 34, 14, 51, 15, 90, 6, 25, 7, 35, 18, 136, 32, 308]
"""Answers of 1,000 candidates to five items, counted by pattern 00000 ... 11111: Bock RD,
Lieberman M 1970 Psychometrika 35:179-197."""


def candidates(counts: list[int]) -> list[list[int]]:
    """One row for each candidate."""
    return [row for row, count in zip(PATTERNS, counts, strict=True) for _ in range(count)]


def test_section_6_gives_the_published_facilities_and_reliability() -> None:
    """Facilities, item-total correlations and score table as printed by Rizopoulos D 2006 J Stat
    Softw 17(5) section 3.1; KR-20 .29500 and alpha without an item from memory, recomputed.
    """
    rows = candidates(SECTION_6)
    exam = exam_statistic(rows)
    assert exam.candidate_count == 1000
    facilities = [item.facility for item in exam.items]
    assert facilities == pytest.approx([0.924, 0.709, 0.553, 0.763, 0.870], abs=5e-4)
    totals = [sum(row) for row in rows]
    assert [totals.count(score) for score in range(6)] == [3, 20, 85, 237, 357, 298]
    total = [item.discrimination for item in exam.items]
    assert total == pytest.approx([0.362, 0.5668, 0.618, 0.534, 0.435], abs=5e-4)
    rest = [item.rest_discrimination for item in exam.items]
    assert rest == pytest.approx([0.1128, 0.1532, 0.1728, 0.1444, 0.1216], abs=5e-4)
    without = [item.alpha_without for item in exam.items]
    assert without == pytest.approx([0.2754, 0.2376, 0.2168, 0.2459, 0.2663], abs=5e-4)
    assert exam.kr20 == pytest.approx(0.29500, abs=5e-5)
    assert (exam.mean, exam.sd, exam.sem) == pytest.approx((3.819, 1.035041, 0.869067), abs=1e-5)


def test_discrimination_is_the_point_biserial_correlation() -> None:
    """By its textbook formula (M1 - M0) / s * (n1 n0 / n^2)^.5, s that of the whole group. The
    difference of the upper and lower groups (Kelley 1939) is not shown anywhere.
    """
    rows = candidates(SECTION_6)
    totals = np.array([sum(row) for row in rows])
    for place, item in enumerate(exam_statistic(rows).items):
        right = np.array([row[place] == 1 for row in rows])
        share = right.mean() * (1 - right.mean())
        gap = totals[right].mean() - totals[~right].mean()
        assert item.discrimination == pytest.approx(gap / totals.std() * math.sqrt(share))


def test_section_7_too() -> None:
    """The second set of the same publication."""
    exam = exam_statistic(candidates(SECTION_7))
    facilities = [item.facility for item in exam.items]
    assert facilities == pytest.approx([0.828, 0.658, 0.772, 0.606, 0.843], abs=5e-4)
    assert exam.kr20 == pytest.approx(0.45341, abs=5e-5)
    without = [item.alpha_without for item in exam.items]
    assert without == pytest.approx([0.3960, 0.3938, 0.3454, 0.4146, 0.4385], abs=5e-4)
    assert (exam.mean, exam.sd) == pytest.approx((3.707, 1.198577), abs=1e-5)


def test_a_bigger_matrix_gives_the_figures_computed_from_it() -> None:
    """729 candidates on 13 items: facilities, KR-20 .743037, mean 7.323731, SEM 1.520699.

    Source: data published with the R package psychotools (Zeileis A et al.); the figures were
    computed from it once and are not printed anywhere.
    """
    text = (Path(__file__).parent.parent / "published" / "mathematics-paper.txt").read_text("utf-8")
    words = [w for line in text.splitlines() if not line.startswith("#") for w in line.split()]
    rows = []
    for word in words:
        pattern, _, count = word.partition(":")
        bits = [int(bit) for bit in f"{int(pattern, 16):013b}"]
        rows += [bits] * int(count or 1)
    exam = exam_statistic(rows)
    facilities = [0.5267, 0.7092, 0.7531, 0.4966, 0.7092, 0.6529, 0.1742]
    facilities += [0.6447, 0.4129, 0.4047, 0.7846, 0.6392, 0.4156]
    assert [item.facility for item in exam.items] == pytest.approx(facilities, abs=1e-4)
    assert exam.kr20 == pytest.approx(0.743037, abs=1e-6)
    assert (exam.mean, exam.sd, exam.sem) == pytest.approx((7.323731, 2.999908, 1.520699), abs=1e-6)


@pytest.mark.parametrize(("sd", "reliability", "sem"), [(10, 0.9, 3.162), (5.85, 0.704, 3.18)])
def test_the_standard_error_of_measurement(sd: float, reliability: float, sem: float) -> None:
    """Source: Tighe J et al. 2010 BMC Med Educ 10:40 (second row as quoted from it)."""
    assert standard_error(sd, reliability) == pytest.approx(sem, abs=0.005)


def test_reliability_among_those_who_passed_falls_as_published() -> None:
    """Observed N(50, 10), reliability .9, pass mark 60: 1586.55 of 10,000 pass, the reliability
    among them falls to .715 and the error of measurement stays 3.162.

    Source: closed form behind the simulation of Tighe J et al. 2010 (1565 passed, .704, 3.18).
    """
    cut, rho, sd = 1.0, 0.9, 10.0
    passing = stats.norm.sf(cut)
    assert passing * 10_000 == pytest.approx(1586.55, abs=0.01)
    hazard = stats.norm.pdf(cut) / passing
    assert hazard == pytest.approx(1.525135, abs=1e-6)
    kept = 1 - hazard * (hazard - cut)
    sd_second = sd * math.sqrt(1 - rho**2 * (1 - kept))
    assert sd_second == pytest.approx(5.9268, abs=1e-4)
    error = standard_error(sd, rho)
    among = 1 - (error / sd_second) ** 2
    assert among == pytest.approx(0.71532, abs=1e-5)
    assert standard_error(sd_second, among) == pytest.approx(3.16228, abs=1e-5)


def test_the_published_simulation_is_reproduced() -> None:
    """10,000 candidates sit three papers: correlations, passes and spreads as published.

    Source: Tighe J et al. 2010, Figure 1: .897, 1565 passes, SD 5.85, .704; tolerances three
    standard deviations of the simulation.
    """
    rng = np.random.default_rng(7)
    true = rng.normal(50, 10 * math.sqrt(0.9), 10_000)
    first, second, third = (true + rng.normal(0, standard_error(10, 0.9), 10_000) for _ in "123")
    assert np.corrcoef(first, second)[0, 1] == pytest.approx(0.897, abs=0.006)
    passed = first >= 60
    assert passed.sum() == pytest.approx(1587, abs=110)
    assert second[passed].std() == pytest.approx(5.85, abs=0.3)
    assert np.corrcoef(second[passed], third[passed])[0, 1] == pytest.approx(0.704, abs=0.04)


@pytest.mark.parametrize(
    ("reliability", "wanted", "item_count"),
    [(0.6, 0.75, 80), (0.7, 14 / 17, 80), (0.8, 2 / 3, 20), (0.8, 0.9, 90), (0.9, 0.9, 40)],
)
def test_a_paper_grows_to_the_reliability_wanted(
    reliability: float, wanted: float, item_count: int
) -> None:
    """Forty items: twice as many lift .6 to .75 and .7 to .8235, half as many leave .6667 of .8.

    Source: Spearman 1910, Brown 1910 Br J Psychol 3 (formula from memory).
    """
    assert items_for(reliability, 40, wanted) == item_count
    assert items_for(0.85, 100, 0.9189) == 200


@given(st.floats(0.01, 0.99), st.integers(2, 300))
def test_a_paper_of_the_length_given_is_as_reliable_as_wanted(rel: float, count: int) -> None:
    """Put back into the formula of Spearman and Brown, and one item fewer is too few."""
    needed = items_for(rel, count)
    assert needed is not None
    grown = [n / count * rel / (1 + (n / count - 1) * rel) for n in (needed, needed - 1)]
    assert grown[0] >= 0.9 - 1e-9
    assert needed == 1 or grown[1] < 0.9 + 1e-9


@pytest.mark.parametrize("reliability", [0.0, -0.4])
def test_no_length_makes_a_paper_of_chance_reliable(reliability: float) -> None:
    """What ranks candidates at random does so at any length."""
    assert items_for(reliability, 40) is None


@given(st.lists(st.lists(st.integers(0, 1), min_size=4, max_size=4), min_size=2, max_size=30))
def test_kr20_agrees_with_a_second_way(rows: list[list[int]]) -> None:
    """Coefficient alpha of 0/1 items by numpy is the same number, with either divisor."""
    table = np.array(rows)
    exam = exam_statistic(rows)
    spread = table.sum(axis=1).var(ddof=1)
    if spread == 0:
        assert exam.kr20 is None
    else:
        alpha = 4 / 3 * (1 - table.var(axis=0, ddof=1).sum() / spread)
        assert exam.kr20 == pytest.approx(alpha)


@pytest.mark.parametrize("rows", [[], [[1, 0]], [[1], [0]], [[1, 0], [1]], [[1, 2], [0, 1]]])
def test_what_is_no_matrix_of_answers_is_refused(rows: list[list[int]]) -> None:
    """Too few, ragged, or other values."""
    with pytest.raises(ValueError, match=r"needed|every candidate|a cell"):
        exam_statistic(rows)


def test_two_candidates_and_two_items_are_enough() -> None:
    """By hand: scores 2 and 0 vary by 1, each item by 1/4: KR-20 is 2 (1 - (1/4 + 1/4) / 1) = 1,
    the standard deviation of the two is 2^.5, and nothing is left to err by. An item goes wholly
    with the score and with the other one, which has no reliability alone.
    """
    exam = exam_statistic([[1, 1], [0, 0]])
    assert (exam.mean, exam.kr20, exam.sem) == (1.0, 1.0, 0.0)
    assert exam.sd == pytest.approx(math.sqrt(2))
    for item in exam.items:
        assert (item.facility, item.alpha_without) == (0.5, None)
        assert (item.discrimination, item.rest_discrimination) == pytest.approx((1.0, 1.0))


def test_an_item_that_all_have_right_goes_with_nothing() -> None:
    """Its correlations are not defined; the other items keep theirs."""
    first, second, _ = exam_statistic([[1, 1, 0], [1, 0, 1], [1, 1, 1]]).items
    assert (first.discrimination, first.rest_discrimination) == (None, None)
    assert second.discrimination is not None


def test_a_paper_reliable_enough_may_shrink_to_one_item() -> None:
    """By hand: .5 (1 - .9999) / (.9999 (1 - .5)) of 40 items is .004, and no paper has less than
    one item.
    """
    assert items_for(0.9999, 40, 0.5) == 1
