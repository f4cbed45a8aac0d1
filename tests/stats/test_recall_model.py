"""Each question is judged by its own story."""

from __future__ import annotations

import numpy as np
import pytest

from kb.stats.history import build_history
from kb.stats.logistic import expit, fit_map
from kb.stats.recall_model import Kind, Recall


def after(rights: list[bool], *, later: float = 1.0) -> float:
    """The chance for a question answered so on successive days, `later` days after the last."""
    count = len(rights)
    history = build_history(["q:1"] * count, ["a"] * count, rights, list(range(count)))
    again = Recall(history)
    return float(again.of_questions(np.array([0]), (np.array([0]), ["a"]), count - 1 + later)[0])


def test_performance_factors_add_up_on_the_log_odds() -> None:
    """Log odds -.5 + .3 x 4 + .1 x 2 = .9 give .710950. Source: pavlik2009, worked by hand."""
    row = np.array([1.0, 4.0, 2.0])
    assert expit(row @ np.array([-0.5, 0.3, 0.1])) == pytest.approx(0.710950, abs=1e-6)


def test_a_question_that_came_right_is_likelier_than_one_missed() -> None:
    """The last answer counts."""
    assert after([True]) > after([False])


def test_more_right_answers_raise_the_chance() -> None:
    """Three right in a row beat one."""
    assert after([True] * 3) > after([True])


def test_what_came_right_fades_with_time() -> None:
    """A month on, a question that came right is likelier to be missed than after a day."""
    assert after([True, True], later=30) < after([True, True], later=1)


def test_no_chance_looks_ahead() -> None:
    """What is said before an answer does not change when later answers do."""
    rng = np.random.default_rng(3)
    questions = [f"q:{n}" for n in rng.integers(0, 12, 60)]
    rights = [bool(r) for r in rng.random(60) < 0.6]
    changed = rights[:40] + [not right for right in rights[40:]]
    one = Recall(build_history(questions, ["a"] * 60, rights)).chances()
    two = Recall(build_history(questions, ["a"] * 60, changed)).chances()
    assert np.array_equal(one[:40], two[:40])


def test_without_data_the_starting_coefficients_stay() -> None:
    """A learner with no answers is judged by the pooled values."""
    start = np.array([0.3, -0.2])
    assert np.array_equal(fit_map(np.zeros((0, 2)), np.zeros(0), start, np.ones(2)), start)


def test_an_unbounded_prior_gives_the_plain_share() -> None:
    """With one constant feature and hardly any prior, the fit is the share itself."""
    rights = np.array([1.0] * 7 + [0.0] * 3)
    beta = fit_map(np.ones((10, 1)), rights, np.zeros(1), np.full(1, 1e3))
    assert float(expit(beta)[0]) == pytest.approx(0.7, abs=1e-4)


HOURS = np.array([19, 63, 525, 1440, 2880, 8640, 44640]) / 60


@pytest.mark.parametrize(
    "kept",
    [
        (0.582, 0.442, 0.358, 0.337, 0.278, 0.254, 0.211),
        (0.544, 0.432, 0.285, 0.316, 0.365, 0.309, 0.258),
        (0.442, 0.325, 0.270, 0.270, 0.286, 0.205, 0.201),
        (0.472, 0.373, 0.276, 0.317, 0.230, 0.168, 0.041),
    ],
    ids=["Ebbinghaus", "Mack", "Seitz", "Dros"],
)
def test_forgetting_is_a_power_of_time(kept: tuple[float, ...]) -> None:
    """Log odds straight in log hours follow published forgetting; straight in hours they do not.

    Source: Murre and Dros 2015 PLoS ONE 10:e0120644, Table 3 (seen in a transcription): savings
    after 20 minutes to 31 days; the form is that of the feature `away`.
    """
    shares = np.array(kept)
    errors = []
    for time in (np.log1p(HOURS) / 3, HOURS / HOURS.max()):
        rows = np.column_stack([np.ones(7), time])
        beta = fit_map(rows, shares, np.zeros(2), np.full(2, 100.0))
        assert beta[1] < 0
        errors.append(float(np.abs(expit(rows @ beta) - shares).mean()))
    assert errors[0] < 0.044
    assert errors[0] < errors[1]


@pytest.mark.parametrize(("right", "form"), [(True, 3.29182), (False, -4.49182)])
def test_form_is_kept_away_from_certainty(right: bool, form: float) -> None:
    """After forty answers alike it is that of 98 right in a hundred, or of 2: by hand the log odds
    of each, 3.89182 and -3.89182, less .6.
    """
    names = [f"north:{n}" for n in range(41)]
    history = build_history(names, ["a"] * 41, [right] * 41)
    features = Recall(history).rows(Kind.FIRST).features
    assert features[40, 2] == pytest.approx(form, abs=1e-5)
    assert abs(features[1, 2]) < 1.5


def test_what_is_said_of_a_new_question_now_is_what_is_said_before_its_answer() -> None:
    """In an area without answers, after any start: with the form of the moment, and nothing of a
    last answer in the area.
    """
    rights = [True, False, True, True, True, True, False, True, True, True, True, True]
    names = [f"north:{n}" for n in range(13)]
    areas = [*("a", "b") * 6, "c"]
    days = list(range(13))
    before = build_history(names[:12], areas[:12], rights, days[:12])
    now = Recall(before).of_questions(np.array([-1]), (np.array([0]), ["c"]), 12)
    after_it = Recall(build_history(names, areas, [*rights, True], days)).chances()
    assert now[0] == pytest.approx(after_it[12], abs=1e-6)
