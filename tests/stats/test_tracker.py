"""The chance of the next answer follows one learner's own answers, and nothing else."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.stats import tracker
from kb.stats.decay import faded_sums
from kb.stats.history import History, build_history
from kb.stats.tracker import PRIOR_MEAN, Tracker, outcome_weights


def fresh(answers: list[tuple[str, bool]]) -> History:
    """A history of (area, right), every question met once."""
    questions = [f"q:{row}" for row in range(len(answers))]
    return build_history(questions, [a for a, _ in answers], [r for _, r in answers])


ANSWERS = st.lists(st.tuples(st.sampled_from("abc"), st.booleans()), max_size=40)


def test_without_fading_it_is_the_textbook_posterior(monkeypatch: pytest.MonkeyPatch) -> None:
    """Prior Beta(8m, 8(1-m)), m = (x + 6.5) / (n + 10) over all answers. Source: conjugacy."""
    monkeypatch.setattr(tracker, "STRENGTHS", (8.0,))
    monkeypatch.setattr(tracker, "OVERALL_HALF_LIVES", (math.inf,))
    monkeypatch.setattr(tracker, "AREA_HALF_LIVES", (math.inf,))
    history = fresh([("a", True)] * 7 + [("a", False)] * 3)
    m = (7 + 6.5) / 20
    assert Tracker(history).chance("a") == pytest.approx((7 + 8 * m) / 18)


def test_an_area_never_met_is_like_the_others() -> None:
    """With no answer at all it is the prior mean."""
    assert Tracker(fresh([])).chance("z") == pytest.approx(PRIOR_MEAN)
    assert Tracker(fresh([("a", True)] * 50)).chance("z") > PRIOR_MEAN


@settings(max_examples=40, deadline=None)
@given(ANSWERS, st.sampled_from("abc"))
def test_another_right_answer_never_lowers_the_chance(
    answers: list[tuple[str, bool]], area: str
) -> None:
    """Whatever came before, in the area that it was given in."""
    before = Tracker(fresh(answers)).chance(area)
    after = Tracker(fresh([*answers, (area, True)])).chance(area)
    assert after >= before - 1e-9


def test_retries_of_misses_only_weigh_nothing() -> None:
    """Ten questions, seven right; the three misses again, one right: the share stays 7 of 10.

    Worked by hand: of those first right none was repeated, rate 0, so min(1, 0 / own rate) is 0.
    """
    rights = [True] * 7 + [False] * 3 + [True, False, False]
    names = [f"q:{n}" for n in range(10)] + ["q:7", "q:8", "q:9"]
    weights = outcome_weights(build_history(names, ["a"] * 13, rights))
    assert weights == pytest.approx([1.0] * 10 + [0.0] * 3)


def test_repeats_are_weighed_to_the_rate_of_the_other_kind() -> None:
    """Ten questions, five right. Two of those first right are repeated, then four misses.

    Worked by hand: the first repeats find no repeat of the other kind, so they weigh 0; then the
    rate of those first right is 2/5; the misses have rates 1/5, 2/5, 3/5, 4/5, so weights
    1, 1, 2/3, 1/2.
    """
    names = [f"q:{n}" for n in range(10)] + ["q:0", "q:1", "q:5", "q:6", "q:7", "q:8"]
    rights = [True] * 5 + [False] * 5 + [True] * 6
    weights = outcome_weights(build_history(names, ["a"] * 16, rights))
    assert weights[10:] == pytest.approx([0, 0, 1, 1, 2 / 3, 1 / 2])


def test_post_stratified_weights_give_the_published_total() -> None:
    """A sample of 240 women and 160 men, of whom 84 and 40 plan a career, from 2,700 and 1,300.

    The total is 1,270. Source: Lohr, Sampling: design and analysis, the college example; from
    memory. Here one first answer is a stratum's size and one repeat a sampled person.
    """
    first = [True] * 2700 + [False] * 1300
    names = [f"q:{n}" for n in range(4000)]
    women, men = range(240), range(2700, 2860)
    rights = [n < 84 for n in range(240)] + [n < 40 for n in range(160)]
    history = build_history(
        names + [f"q:{n}" for n in (*women, *men)], ["a"] * 4400, first + rights
    )
    own, other = 240 / 2700, 160 / 1300
    assert outcome_weights(history)[-1] == pytest.approx(own / other)
    by_rate = 84 / own + 40 / other
    assert by_rate == pytest.approx(1270)


@settings(max_examples=30, deadline=None)
@given(ANSWERS)
def test_relabelling_areas_changes_nothing(answers: list[tuple[str, bool]]) -> None:
    """Areas are names only."""
    names = {"a": "zeta", "b": "alpha", "c": "mid"}
    one = Tracker(fresh(answers))
    other = Tracker(fresh([(names[area], right) for area, right in answers]))
    assert one.chances == pytest.approx(other.chances)
    for area, name in names.items():
        assert one.chance(area) == pytest.approx(other.chance(name))


@settings(max_examples=30, deadline=None)
@given(ANSWERS, ANSWERS)
def test_no_figure_looks_ahead(
    answers: list[tuple[str, bool]], later: list[tuple[str, bool]]
) -> None:
    """What is said before an answer does not depend on that answer or on later ones."""
    short, whole = Tracker(fresh(answers)), Tracker(fresh([*answers, *later]))
    assert whole.chances[: len(answers)] == pytest.approx(short.chances)


def test_recent_answers_count_more() -> None:
    """The same answers in another order: rising stands higher than falling."""
    rising = [("a", False)] * 30 + [("a", True)] * 30
    falling = rising[::-1]
    assert Tracker(fresh(rising)).chance("a") > Tracker(fresh(falling)).chance("a")


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.integers(0, 1), st.floats(0.05, 1.5)), max_size=30),
    st.floats(1.0, 50.0),
)
def test_faded_counts_follow_their_definition(
    pieces: list[tuple[int, float]], half_life: float
) -> None:
    """Against a plain loop: earlier evidence fades by the half-life of later evidence."""
    values = np.array([x for x, _ in pieces], dtype=float)
    weights = np.array([w for _, w in pieces], dtype=float)
    total, number = faded_sums(values, weights, half_life)
    fade, s, n = 0.5 ** (1 / half_life), 0.0, 0.0
    for value, weight in pieces:
        amount = (1 - fade**weight) / (1 - fade)
        s, n = s * fade**weight + value * amount, n * fade**weight + amount
    assert total[-1] == pytest.approx(s, abs=1e-9)
    assert number[-1] == pytest.approx(n, abs=1e-9)


def test_a_long_row_does_not_overflow() -> None:
    """Thousands of answers at the shortest half-life stay finite."""
    total, number = faded_sums(np.ones(20000), np.ones(20000), 3.0)
    assert total[-1] == pytest.approx(number[-1])
    assert np.isfinite(number).all()


def test_one_question_of_the_other_kind_gives_a_rate_too() -> None:
    """By hand: two first right, one first missed. The miss is retried first and weighs 0 / 1; then
    the rates are 1 of 1 missed against 1 of 2, and 2 of 2, right.
    """
    names = ["q:0", "q:1", "q:2", "q:1", "q:0", "q:2"]
    rights = [True, False, True, True, True, True]
    weights = outcome_weights(build_history(names, ["a"] * 6, rights))
    assert weights == pytest.approx([1, 1, 1, 0, 1, 1])
