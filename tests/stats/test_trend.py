"""A trend comes from answers to new questions only, with how sure it is."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from statsmodels.stats.proportion import confint_proportions_2indep

from kb.core.ids import AreaId, AttemptId, QuestionId
from kb.core.model import Attempt
from kb.stats.trend import Trend, trends

TODAY = date(2027, 2, 14)


def answers(prefix: str, days_ago: int, right: int, wrong: int) -> list[Attempt]:
    """So many right and wrong answers to new questions, some days ago."""
    at = datetime(2027, 2, 14, 12, tzinfo=UTC) - timedelta(days=days_ago)
    return [
        Attempt(
            id=AttemptId(f"{prefix}{i}"),
            at=at,
            question=QuestionId(f"north:{prefix}{i}"),
            outcome="right" if i < right else "wrong",
            area=AreaId("heart"),
        )
        for i in range(right + wrong)
    ]


def test_a_rise_has_the_published_bounds() -> None:
    """9 of 10 this month against 3 of 10: .1705 to .8090. Source: Newcombe 1998, Table II."""
    found = trends([*answers("a", 40, 3, 7), *answers("b", 5, 9, 1)], TODAY)["heart"]
    assert found is not None
    assert (found.low, found.high) == pytest.approx((0.1705, 0.8090), abs=5e-5)
    assert (found.word, found.change) == ("up", pytest.approx(0.6))


def test_a_small_change_is_unclear() -> None:
    """No change lies within the bounds."""
    found = trends([*answers("a", 40, 6, 4), *answers("b", 5, 7, 3)], TODAY)["heart"]
    assert found is not None
    assert found.word == "may be chance"


def test_too_few_answers_say_nothing() -> None:
    """Fewer than five in a month."""
    assert trends([*answers("a", 40, 2, 2), *answers("b", 5, 9, 1)], TODAY)["heart"] is None


def test_recognition_does_not_pass_for_learning() -> None:
    """The same questions right the second time are no trend."""
    then = answers("a", 40, 3, 7)
    again = [
        Attempt(
            id=AttemptId(f"again-{a.id}"),
            at=a.at + timedelta(days=35),
            question=a.question,
            outcome="right",
            area=a.area,
        )
        for a in then
    ]
    assert trends([*then, *again], TODAY)["heart"] is None


def test_each_month_has_its_own_answers() -> None:
    """6 of 8 this month, 5 of 20 the month before: from .25 to .75; bounds by statsmodels."""
    found = trends([*answers("a", 40, 5, 15), *answers("b", 5, 6, 2)], TODAY)["heart"]
    assert found is not None
    assert found.change == pytest.approx(0.5)
    low, high = confint_proportions_2indep(6, 8, 5, 20, method="newcomb")
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-6)


@pytest.mark.parametrize(
    ("late", "early", "said"),
    [
        (29, 30, True),
        (30, 59, False),
        (29, 59, True),
        (29, 60, False),
        (0, 30, True),
        (-1, 40, False),
    ],
)
def test_a_month_has_thirty_days(late: int, early: int, said: bool) -> None:
    """Days 0 to 29 before today are this month, 30 to 59 the month before; five make a trend."""
    found = trends([*answers("a", early, 2, 3), *answers("b", late, 4, 1)], TODAY)["heart"]
    assert (found is not None) == said


def test_a_fall_is_called_so() -> None:
    """3 of 10 after 9 of 10."""
    found = trends([*answers("a", 40, 9, 1), *answers("b", 5, 3, 7)], TODAY)["heart"]
    assert found is not None
    assert found.word == "down"


@pytest.mark.parametrize(
    ("low", "high", "word"),
    [(0.0, 0.2, "may be chance"), (-0.2, 0.0, "may be chance"), (0.01, 0.2, "up")],
)
def test_a_bound_of_no_change_includes_no_change(low: float, high: float, word: str) -> None:
    """The bounds belong to the interval."""
    assert Trend(change=0.1, low=low, high=high).word == word
