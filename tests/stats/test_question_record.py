"""A question's own record is the expected chance given its answers."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.optimize import brentq
from scipy.special import expit
from scipy.stats import norm

from kb.stats.question_record import LIFT, SPREAD, record_chances

if TYPE_CHECKING:
    from collections.abc import Callable


def chance(first: int, hits: int, misses: int, usual: float) -> float:
    """The chance of one question."""
    columns = (np.array([one]) for one in (first, hits, misses))
    return float(record_chances(*columns, np.array([usual]))[0])


@pytest.mark.parametrize(
    ("first", "hits", "misses", "usual"),
    [(0, 0, 0, 0.7), (1, 0, 0, 0.7), (1, 1, 2, 0.36), (1, 4, 0, 0.92), (0, 0, 6, 0.5)],
)
def test_a_record_is_the_expected_chance(first: int, hits: int, misses: int, usual: float) -> None:
    """By adaptive integration of the same posterior. Reference: scipy.integrate.quad."""

    def likely(z: float, *, right_again: int = 0) -> float:
        met = expit(z) if first else expit(-z)
        later = expit(z + LIFT) ** hits * expit(-z - LIFT) ** misses
        return float(met * later * expit(z) ** right_again)

    def mean(value: Callable[[float], float], middle: float) -> float:
        return float(
            quad(lambda z: norm.pdf(z, middle, SPREAD) * value(z), middle - 12, middle + 12)[0]
        )

    middle = brentq(lambda z: mean(expit, z) - usual, -6, 6)
    expected = mean(lambda z: likely(z, right_again=1), middle) / mean(likely, middle)
    assert chance(first, hits, misses, usual) == pytest.approx(expected, abs=5e-4)


@pytest.mark.parametrize("usual", [0.36, 0.7, 0.92])
def test_without_answers_it_is_the_usual_chance(usual: float) -> None:
    """By definition."""
    assert chance(-1, 0, 0, usual) == pytest.approx(usual, abs=5e-4)


def test_a_hit_and_a_miss_move_it_in_their_direction() -> None:
    """At a usual 70%, one miss makes about 49%, one hit about 79%."""
    assert chance(0, 0, 0, 0.7) == pytest.approx(0.49, abs=0.01)
    assert chance(1, 0, 0, 0.7) == pytest.approx(0.79, abs=0.01)
