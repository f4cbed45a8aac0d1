"""Answers as columns say the same as the records they are made of."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pytest

from kb.core.answers import Answers, cells_of
from kb.core.ids import AreaId, AttemptId, QuestionId
from kb.core.model import Attempt
from kb.formats.attempt_ids import merge
from kb.formats.attempt_log import HEADER, format_attempt, parse_log

FIRST = Attempt(
    id=AttemptId("a1"),
    at=datetime(2027, 1, 14, 23, 30, tzinfo=timezone(timedelta(hours=-1))),
    question=QuestionId("north:1"),
    outcome="wrong",
    area=AreaId("renal"),
    remark="gout, not 'pseudogout'",
    seconds=62.5,
)
GIVEN = (
    FIRST,
    replace(FIRST, id=AttemptId("a2"), at=datetime(2027, 1, 15, 8, tzinfo=UTC), outcome="right"),
    Attempt(
        id=AttemptId("a3"),
        at=datetime(2027, 1, 15, 9, tzinfo=UTC),
        question=QuestionId("paper-1:7"),
        outcome="blank",
        round="paper",
    ),
)


def logged() -> Answers:
    """The same, as a log gives them back."""
    raw = HEADER + "".join(map(format_attempt, GIVEN))
    return merge([parse_log(raw.encode(), "log/a.csv")])[0]


@pytest.mark.parametrize("answers", [Answers(GIVEN), logged()], ids=["records", "log"])
def test_columns_are_those_of_the_records(answers: Answers) -> None:
    """The day is the doctor's own: half past eleven at night in UTC-1 is the next day in UTC."""
    assert tuple(answers) == GIVEN
    assert answers.ids == ["a1", "a2", "a3"]
    assert cells_of(answers.column("area")) == ("renal", "renal", "")
    assert cells_of(answers.column("source")) == ("north", "north", "paper-1")
    days = [date(2027, 1, 14), date(2027, 1, 15), date(2027, 1, 15)]
    assert answers.days.tolist() == [day.toordinal() for day in days]
    assert answers.moments.tolist() == [row.at.timestamp() for row in GIVEN]
    assert answers.rights.tolist() == [False, True, False]
    assert answers.new.tolist() == [True, False, True]
    assert list(answers.counts("outcome").items()) == [("wrong", 1), ("right", 1), ("blank", 1)]
    assert answers.counts("area", answers.new) == {"renal": 1, "": 1}
    assert not answers.equals("round", "second").any()


@pytest.mark.parametrize("answers", [Answers(GIVEN), logged()], ids=["records", "log"])
def test_some_of_the_answers_are_answers_in_columns_again(answers: Answers) -> None:
    """In the order asked for, with what they hold; all of them are the same ones."""
    some = answers.take(np.array([2, 0]))
    assert tuple(some) == (GIVEN[2], GIVEN[0])
    assert cells_of(some.column("question")) == ("paper-1:7", "north:1")
    assert some.only(some.rights) == ()
    assert answers.only(np.ones(3, dtype=bool)) is answers


def test_files_are_joined_though_each_has_codes_of_its_own() -> None:
    """What is the second area of one file is the first of the other."""
    files = [
        parse_log((HEADER + "".join(map(format_attempt, rows))).encode(), f"log/{name}.csv")
        for name, rows in (("a", GIVEN[1:]), ("b", GIVEN[:1]))
    ]
    attempts, _, problems = merge(files)
    assert (attempts, problems) == (GIVEN, [])
    assert [str(row.place) for row in attempts] == ["log/b.csv:2", "log/a.csv:2", "log/a.csv:3"]
