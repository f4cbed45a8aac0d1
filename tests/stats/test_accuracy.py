"""The share right over time is what the log says, round by round."""

from __future__ import annotations

from datetime import UTC, date, datetime

import pytest

from kb.core.ids import AttemptId, QuestionId, Round
from kb.core.model import Attempt
from kb.stats.accuracy import rounds_of, shares_over_time

TODAY = date(2027, 2, 14)


def answer(day: date, question: str, right: bool, round_: Round = "") -> Attempt:
    """One answer at noon."""
    return Attempt(
        id=AttemptId(f"{day}{question}"),
        at=datetime(day.year, day.month, day.day, 12, tzinfo=UTC),
        question=QuestionId(question),
        outcome="right" if right else "wrong",
        round=round_,
    )


def test_an_answer_without_a_round_is_first_when_new_and_second_when_met() -> None:
    """The log's own round wins; otherwise whether the question was met decides."""
    answers = [
        answer(date(2027, 2, 1), "north:1", True),
        answer(date(2027, 2, 2), "north:1", True),
        answer(date(2027, 2, 3), "north:2", True, "second"),
        answer(date(2027, 2, 4), "north:1", True, "first"),
    ]
    assert [round_ for _, round_ in rounds_of(answers)] == ["first", "second", "second", "first"]


def test_stretches_are_counted_back_from_today() -> None:
    """Today is the last day of the last week; the day a week ago ends the week before."""
    answers = [
        answer(date(2027, 2, 7), "north:1", True),
        answer(date(2027, 2, 8), "north:2", False),
        answer(date(2027, 2, 14), "north:3", True),
    ]
    first, last = shares_over_time(answers, TODAY)
    assert (first.first_day, first.last_day) == (date(2027, 2, 1), date(2027, 2, 7))
    assert (last.first_day, last.last_day) == (date(2027, 2, 8), TODAY)
    assert [(row.right_count, row.tried_count) for row in (first, last)] == [(1, 1), (1, 2)]


def test_a_week_does_not_begin_before_the_first_day_there_is() -> None:
    """A slip in the year of an answer is counted with the others, and stops nothing. The first day
    was a Monday, so that of weeks to Monday the first has one day.
    """
    monday = date(2027, 2, 15)
    rows = [answer(date.min, "north:1", True), answer(monday, "north:2", True)]
    first, _ = shares_over_time(rows, monday)
    assert (first.first_day, first.last_day) == (date.min, date.min)


def test_the_likely_range_is_the_score_interval() -> None:
    """81 right of 263 are likely (80%) between .2728 and .3456.

    Source: the score interval of wilson1927 by hand, with z = 1.28155.
    """
    answers = [answer(TODAY, f"north:{n}", n < 81) for n in range(263)]
    (row,) = shares_over_time(answers, TODAY)
    assert row.fraction == pytest.approx(81 / 263)
    assert (row.likely.low, row.likely.high) == pytest.approx((0.2728, 0.3456), abs=5e-5)


def test_rounds_stand_apart_in_their_order() -> None:
    """First round, second round, papers; nothing of one is counted in another."""
    answers = [
        answer(TODAY, "paper-1:1", False, "paper"),
        answer(TODAY, "north:1", True, "first"),
        answer(TODAY, "north:2", True, "second"),
    ]
    found = shares_over_time(answers, TODAY)
    assert [(row.round, row.right_count) for row in found] == [
        ("first", 1),
        ("second", 1),
        ("paper", 0),
    ]


def test_a_week_ends_today() -> None:
    """The seventh day before today belongs to the week before."""
    days = [date(2027, 2, 7), date(2027, 2, 8), TODAY]
    found = shares_over_time([answer(day, f"north:{day.day}", True) for day in days], TODAY)
    assert [(row.first_day, row.last_day, row.tried_count) for row in found] == [
        (date(2027, 2, 1), date(2027, 2, 7), 1),
        (date(2027, 2, 8), TODAY, 2),
    ]
