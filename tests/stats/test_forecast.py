"""Forecasts of papers learn from papers and are not flattered by recognition."""

from __future__ import annotations

import numpy as np

from kb.stats.day_effect import SHIFTS, DayEffect
from kb.stats.forecast import Forecaster, backtest, count_items
from kb.stats.history import History, build_history
from kb.stats.score_distribution import Part, mean_score, quantile, score_distributions

BLUEPRINT = {"a": 50, "b": 50}


def two_rounds() -> History:
    """Two hundred questions, 60 in 100 right at first; then again a fortnight on, 75 in 100."""
    questions = [f"q:{n}" for n in range(200)]
    areas = ["ab"[n % 2] for n in range(200)]
    first = [(n // 2) % 5 < 3 for n in range(200)]
    second = [(n // 2) % 4 < 3 for n in range(200)]
    days = [n / 20 for n in range(200)]
    return build_history(
        questions * 2, areas * 2, first + second, days + [day + 24 for day in days]
    )


def width(pmf: np.ndarray) -> int:
    """Items in the range of 8 in 10."""
    return quantile(pmf, 0.9) - quantile(pmf, 0.1)


def test_second_round_accuracy_does_not_flatter() -> None:
    """The forecast stays below the share right on questions met before."""
    forecaster = Forecaster()
    pmf = forecaster.mix(forecaster.weigh(two_rounds(), BLUEPRINT))
    assert mean_score(pmf) < 73


def test_renamed_areas_change_nothing() -> None:
    """The same answers under other names of areas give the same forecast."""
    history = two_rounds()
    names = {"a": "zoster", "b": "quill"}
    other = build_history(
        history.questions, [names[a] for a in history.areas], history.rights, history.days
    )
    one, two = Forecaster(), Forecaster()
    first = one.mix(one.weigh(history, BLUEPRINT))
    second = two.mix(two.weigh(other, {"zoster": 50, "quill": 50}))
    assert np.allclose(first, second)


def test_every_forecast_is_a_distribution() -> None:
    """Probabilities of all scores from none to all items add up to one, with no answers too."""
    forecaster = Forecaster()
    pmf = forecaster.mix(forecaster.weigh(build_history([], [], []), BLUEPRINT))
    assert len(pmf) == 101
    assert np.isclose(pmf.sum(), 1.0)


def test_even_papers_narrow_the_day_effect_and_uneven_ones_widen_it() -> None:
    """Scores at the mean make days more alike; scores far off make them less alike."""
    by_shift = score_distributions([Part(item_count=100, mean=0.65, strength=500.0)], SHIFTS)
    even, uneven = DayEffect(), DayEffect()
    for score in (65, 65, 65, 65):
        even.learn(by_shift, score)
    for score in (50, 80, 48, 82):
        uneven.learn(by_shift, score)
    assert even.mean_spread() < DayEffect().mean_spread() < uneven.mean_spread()
    assert width(even.mix(by_shift)) < width(uneven.mix(by_shift))


def test_the_day_effect_does_not_move_the_mean() -> None:
    """It widens a forecast near .65 and leaves its middle within half a mark of 100."""
    by_shift = score_distributions([Part(item_count=100, mean=0.65, strength=1e6)], SHIFTS)
    assert abs(mean_score(DayEffect().mix(by_shift)) - 65) < 0.5


def test_a_past_paper_is_foretold_from_the_answers_before_it_only() -> None:
    """Changing answers after a paper leaves its back-test as it was."""
    history = two_rounds()
    flipped = build_history(
        history.questions,
        history.areas,
        [*history.rights[:300], *(not right for right in history.rights[300:])],
        history.days,
    )
    spans = [("paper", 200, 300)]
    assert backtest(history, spans)[1] == backtest(flipped, spans)[1]


def test_items_are_counted_by_area() -> None:
    """The blueprint of a past paper is its own items."""
    assert count_items(["a", "b", "a"]) == {"a": 2, "b": 1}
