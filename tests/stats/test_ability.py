"""Ability is the same however the doctor retries, and its figures follow from their definitions."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from scipy.stats import multivariate_normal

from kb.stats import ability
from kb.stats.ability import Total, learn_ability
from kb.stats.history import History, build_history
from kb.stats.score_distribution import mean_score

ITEMS = {"a": 100, "b": 100}


def blocks(count: int, right_of_ten: int, prefix: str = "bank") -> tuple[list[str], list[bool]]:
    """So many new questions, evenly right."""
    return (
        [f"{prefix}:{n}" for n in range(count)],
        [n * 3 % 10 < right_of_ten for n in range(count)],
    )


def history(questions: list[str], rights: list[bool], start: float = 0.0) -> History:
    """Fifty answers a day; areas by turns, one area for one question."""
    areas = ["ab"[int(q.rpartition(":")[2]) // 10 % 2] for q in questions]
    days = [start + row // 50 for row in range(len(questions))]
    return build_history(questions, areas, rights, days)


def expected(found: ability.Ability) -> float:
    """The expected score of 200, as a percentage."""
    return mean_score(found.score(ITEMS)) / 2


def test_retrying_the_misses_once_leaves_standing_at_seventy() -> None:
    """Ten blocks of 50 at 70%, then the 150 misses once more, half of them right: about 70%."""
    questions, rights = blocks(500, 7)
    misses = [q for q, right in zip(questions, rights, strict=True) if not right]
    assert len(misses) == 150
    again = [n % 2 == 0 for n in range(150)]
    found = learn_ability(history(questions + misses, rights + again))
    assert expected(found) == pytest.approx(70, abs=1.5)
    assert (found.chance("a") + found.chance("b")) / 2 == pytest.approx(0.70, abs=0.02)


def test_misses_drilled_until_right_leave_it_there_too() -> None:
    """Three rounds of the misses within a week, a third right each time: still near 70%."""
    questions, rights = blocks(500, 7)
    left = [q for q, right in zip(questions, rights, strict=True) if not right]
    for _ in range(3):
        again = [n % 3 == 0 for n in range(len(left))]
        questions, rights = questions + left, rights + again
        left = [q for q, right in zip(left, again, strict=True) if not right]
    assert expected(learn_ability(history(questions, rights))) == pytest.approx(70, abs=4)


def test_no_answers_leave_the_prior() -> None:
    """Log odds .6 with SD 1.5, areas by their spread: a share a little above one half."""
    found = learn_ability(build_history([], [], []))
    assert 0.58 < found.chance("a") < 0.65
    assert found.likely("a").high - found.likely("a").low > 0.5
    assert np.isclose(found.score(ITEMS).sum(), 1.0)


def test_a_harder_bank_is_told_from_papers() -> None:
    """Bank at 50%, three papers at 70%: the exam is like the papers, the bank about 20 points off.

    Worked by hand: logit .7 - logit .5 = .85, shrunk towards 0.
    """
    questions, rights = blocks(600, 5)
    sat, scored = blocks(600, 7, "paper")
    found = learn_ability(history(questions + sat, rights + scored), set(range(600, 1200)))
    assert expected(found) == pytest.approx(70, abs=2.5)
    (bank,) = found.sources
    assert bank.source == "bank"
    assert -0.95 < bank.mean < -0.5
    assert found.on_papers


def test_one_bank_without_papers_is_the_exam() -> None:
    """Nothing says how hard it is, and nothing is said of it."""
    found = learn_ability(history(*blocks(300, 6)))
    assert not found.sources
    assert not found.on_papers


def test_a_paper_of_which_only_the_score_is_known_counts() -> None:
    """A score of 160 of 200 raises what 300 answers at 60% say."""
    plain = history(*blocks(300, 6))
    total = Total(row=300, area="", right_count=160, item_count=200)
    assert expected(learn_ability(plain, (), [total], ITEMS)) > expected(learn_ability(plain)) + 3


def test_the_spreads_are_weighed_by_the_likelihood_of_counts() -> None:
    """One stretch, one area: the grid weighs by its exponential priors and the answers' density.

    Reference: scipy.stats.multivariate_normal on the linearised answers, dense and by definition.
    """
    questions = [f"q:{n}" for n in range(40)]
    rights = [n % 4 > 0 for n in range(40)]
    found = learn_ability(build_history(questions, ["a"] * 40, rights))
    # one cell of 30 right in 40: z is what Newton's method finds, y its linearised answer
    whole = 40 / ability.RISE_ANSWERS * -0.5
    row = np.array([1.0, 1.0, 1.0, whole])
    expect = np.array([0.6, 0.0, 0.0, 0.25])
    size = 40.0

    def prior(walk: float, area: float, day: float) -> np.ndarray:
        return np.diag([1.5**2, day**2 * min(1.0, 50 / size), area**2, 0.35**2])

    middle = prior(0.08, 0.35, 0.2)
    spread = float(row @ middle @ row)
    z = float(row @ expect)
    for _ in range(100):
        p = 1 / (1 + math.exp(-z))
        slope = (30 - 40 * p) - (z - float(row @ expect)) / spread
        z += slope / (40 * p * (1 - p) + 1 / spread)
    p = 1 / (1 + math.exp(-z))
    bend = 40 * p * (1 - p)
    y = z + (30 - 40 * p) / bend
    weights, means, variances = [], [], []
    for walk, area, day in itertools.product(ability.WALK, ability.AREAS, ability.DAYS):
        cov = prior(walk, area, day)
        noise = float(row @ cov @ row) + 1 / bend
        rarity = math.exp(-10 * walk - 10 * day)
        weights.append(rarity * multivariate_normal(float(row @ expect), noise).pdf(y))
        gain = cov @ row / noise
        post = expect + gain * (y - float(row @ expect))
        left = cov - np.outer(gain, row) @ cov
        want = np.array([1.0, 0.0, 1.0, 0.0])
        means.append(want @ post)
        variances.append(want @ left @ want)
    share = np.array(weights) / np.sum(weights)
    mean = float(share @ means)
    assert found.mean[0] == pytest.approx(mean, abs=1e-6)
    between = float(share @ (np.array(variances) + (np.array(means) - mean) ** 2))
    assert found.covariance[0, 0] == pytest.approx(between, abs=1e-6)
