"""The beta distribution agrees with scipy's."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from kb.stats.beta import beta_cdf, beta_quantile

SHAPES = st.floats(0.3, 400)


@settings(max_examples=60, deadline=None)
@given(st.floats(0.001, 0.999), SHAPES, SHAPES)
def test_the_distribution_is_that_of_scipy(x: float, a: float, b: float) -> None:
    """The regularised incomplete beta to nine digits. Source: scipy.stats.beta."""
    assert beta_cdf(x, a, b) == pytest.approx(stats.beta.cdf(x, a, b), abs=1e-9)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.01, 0.99), st.floats(0.5, 200), st.floats(0.5, 200))
def test_a_quantile_leads_back_to_its_share(share: float, a: float, b: float) -> None:
    """The quantile and the distribution undo each other."""
    assert beta_cdf(beta_quantile(share, a, b), a, b) == pytest.approx(share, abs=1e-6)


def test_the_ends_are_certain() -> None:
    """Nothing lies below 0 and all of it below 1."""
    assert (beta_cdf(0, 2, 3), beta_cdf(1, 2, 3)) == (0.0, 1.0)


def test_a_shape_of_zero_is_refused() -> None:
    """There is no such distribution."""
    with pytest.raises(ValueError, match="above 0"):
        beta_cdf(0.5, 0, 1)
