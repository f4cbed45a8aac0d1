"""A trend comes from first encounters only, with how sure it is."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from kb.core.ids import AreaId, AttemptId, QuestionId
from kb.core.model import Attempt
from kb.stats.trend import trends

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
    assert found.word == "chance?"


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
