"""The columns that the models run over count days from one fixed point."""

from __future__ import annotations

from datetime import UTC, date, datetime

from kb.core.ids import AttemptId, QuestionId
from kb.core.model import Attempt
from kb.stats.history import history_of, noon_number


def test_noon_is_half_a_day_and_days_run_from_1970() -> None:
    """By definition of the count: noon of 1 January 1970 is .5, and 20 days later 20.5."""
    assert noon_number(date(1970, 1, 1)) == 0.5
    assert noon_number(date(1970, 1, 21)) == 20.5


def test_an_answer_at_noon_has_the_number_of_its_noon() -> None:
    """Two roads to one number."""
    at = datetime(2027, 2, 14, 12, tzinfo=UTC)
    answer = Attempt(id=AttemptId("x"), at=at, question=QuestionId("q:1"), outcome="blank")
    found = history_of([answer])
    assert found.days == (noon_number(at.date()),)
    assert found.rights == (False,)
