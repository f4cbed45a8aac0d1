"""A question's own record is the expected chance given its answers."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import expit
from scipy.stats import norm

from kb.stats.question_record import SPREAD, record_chances


def chance(hits: int, misses: int, usual: float) -> float:
    """The chance of one question."""
    return float(record_chances(np.array([hits]), np.array([misses]), np.array([usual]))[0])


@pytest.mark.parametrize(
    ("hits", "misses", "usual"), [(0, 1, 0.7), (1, 0, 0.7), (1, 2, 0.36), (4, 0, 0.92), (0, 6, 0.5)]
)
def test_a_record_is_the_expected_chance(hits: int, misses: int, usual: float) -> None:
    """By adaptive integration of the same posterior. Reference: scipy.integrate.quad."""

    def moment(middle: float, right: int, wrong: int) -> float:
        def weighed(z: float) -> float:
            return float(norm.pdf(z, middle, SPREAD) * expit(z) ** right * expit(-z) ** wrong)

        return float(quad(weighed, middle - 12, middle + 12)[0])

    middle = brentq(lambda z: moment(z, 1, 0) - usual, -6, 6)
    expected = moment(middle, hits + 1, misses) / moment(middle, hits, misses)
    assert chance(hits, misses, usual) == pytest.approx(expected, abs=5e-4)


@pytest.mark.parametrize("usual", [0.36, 0.7, 0.92])
def test_without_answers_it_is_the_usual_chance(usual: float) -> None:
    """By definition."""
    assert chance(0, 0, usual) == pytest.approx(usual, abs=5e-4)


def test_a_hit_and_a_miss_move_it_in_their_direction() -> None:
    """At a usual 70%, one miss makes about 49%, one hit about 79%."""
    assert chance(0, 1, 0.7) == pytest.approx(0.49, abs=0.01)
    assert chance(1, 0, 0.7) == pytest.approx(0.79, abs=0.01)
