"""The gap to the next look against the published optimum."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.stats.spacing import best_gap_days, next_look_days

# Cepeda, Vul, Rohrer, Wixted & Pashler 2008, Psychol Sci 19:1095 (figures seen at second hand).
PUBLISHED = [(7, 3, 0.43), (35, 8, 0.23), (70, 12, 0.17), (350, 27, 0.08)]


@pytest.mark.parametrize(("retention", "gap", "fraction"), PUBLISHED)
def test_the_published_gaps(retention: int, gap: int, fraction: float) -> None:
    """3, 8, 12 and 27 days for tests 7, 35, 70 and 350 days later: 43, 23, 17 and 8 %."""
    found = best_gap_days(retention)
    assert found == pytest.approx(gap)
    assert found / retention == pytest.approx(fraction, abs=0.005)


@given(st.floats(0.5, 1000), st.floats(1.01, 3))
def test_the_gap_rises_and_its_share_falls(retention: float, factor: float) -> None:
    """Later tests want longer gaps, but a smaller share of the time."""
    near, far = best_gap_days(retention), best_gap_days(retention * factor)
    assert far > near
    assert far / (retention * factor) <= near / retention + 1e-12


@pytest.mark.parametrize("retention", [0, -1, -400])
def test_no_time_has_no_gap(retention: float) -> None:
    """Nor has a test that is past."""
    assert best_gap_days(retention) == 0


def test_published_bands() -> None:
    """20 to 43 % of a week, 5 to 10 % of a year (the paper's abstract, rounded up at a week)."""
    assert 0.20 <= best_gap_days(7) / 7 <= 0.43
    assert 0.05 <= best_gap_days(350) / 350 <= 0.10


@pytest.mark.parametrize(("retention", "gap"), [(7, 3), (35, 8), (70, 12), (350, 27)])
def test_gap_and_interval_make_up_the_days_left(retention: int, gap: int) -> None:
    """With 10, 43, 82 or 377 days left the next look is 3, 8, 12 or 27 days away."""
    assert next_look_days(retention + gap) == gap


@given(st.integers(-5, 800))
def test_the_next_look_is_at_least_tomorrow(left: int) -> None:
    """Even after the exam the answer is a day or more, and later where more days are left."""
    assert 1 <= next_look_days(left) <= next_look_days(left + 1)


def test_the_review_behind_spacing_is_cited_with_its_size() -> None:
    """839 assessments in 317 experiments of 184 articles.

    Source: Cepeda NJ et al. 2006 Psychol Bull 132:354-380 (seen at second hand).
    """
    from kb.core.citations import WORKS

    where = WORKS["cepeda2006"].where
    assert [int(word) for word in where.split() if word.isdigit()] == [839, 317, 184]
