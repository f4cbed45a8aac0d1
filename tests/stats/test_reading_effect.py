"""Whether reading a note works is said by retries, with and without."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId
from kb.core.model import Attempt, Base, Note, Reading
from kb.core.settings import Area, Exam, Study
from kb.stats.reading_effect import PRIOR_FRACTION, reading_effect

START = datetime(2027, 1, 1, 12, tzinfo=UTC)
A = AreaId("a")


def base_of(read_right: int, unread_right: int, each: int = 30) -> Base:
    """`each` misses read before the retry two days on, and as many not; so many came right."""
    attempts, notes, readings = [], [], []
    for n in range(2 * each):
        question = QuestionId(f"q:{n}")
        read = n < each
        right = n < read_right if read else n - each < unread_right
        note = NoteId(f"n{n}")
        notes.append(Note(id=note, path=f"{n}.md", title="T", areas=(A,), questions=(question,)))
        if read:
            readings.append(Reading(id=str(n), at=START + timedelta(days=1), note=note))
        for days, came in ((0, False), (2, right)):
            attempts.append(
                Attempt(
                    id=AttemptId(f"{n}-{days}"),
                    at=START + timedelta(days=days, minutes=n),
                    question=question,
                    outcome="right" if came else "wrong",
                    area=A,
                )
            )
    attempts.sort(key=lambda attempt: attempt.at)
    exam = Exam(name="E", date=date(2027, 5, 1), areas=(Area(id=A, name="A", item_count=10),))
    return Base(
        exam=exam,
        study=Study(),
        notes=tuple(notes),
        attempts=tuple(attempts),
        readings=tuple(readings),
    )


def test_nothing_retried_leaves_the_starting_value() -> None:
    """Half is assumed until retries say otherwise, and it is not enough to speak."""
    found = reading_effect(base_of(0, 0, each=0), [])
    assert found.fraction == PRIOR_FRACTION
    assert not found.enough


def test_reading_that_helps_is_measured() -> None:
    """Three misses of 30 after reading, 27 of 30 without: 72 % fewer, likely 47 to 86 %.

    Source: worked by hand. Without reading (27 + 4 x 28/32) / (30 + 4) of 30 were to be expected,
    26.91 misses; (10 + 3) / (20 + 26.91) = .2771 are left, and exp(1.96 (1/13 + 1/28)^.5) = 1.9306.
    """
    found = reading_effect(base_of(27, 3), [0.6] * 120)
    bounds = (found.fraction, found.low, found.high)
    assert bounds == pytest.approx((0.7229, 0.4650, 0.8565), abs=1e-4)


@pytest.mark.parametrize(("each", "enough"), [(20, True), (19, False)])
def test_few_retries_are_not_enough_to_speak(each: int, enough: bool) -> None:
    """Twenty of each kind are."""
    assert reading_effect(base_of(9, 3, each), [0.6] * 4 * each).enough is enough


def test_reading_that_does_nothing_is_seen_too() -> None:
    """The same share right with and without draws the estimate below the starting half."""
    found = reading_effect(base_of(10, 10), [0.6] * 120)
    assert found.fraction < PRIOR_FRACTION


def test_the_interval_holds_the_estimate() -> None:
    """Low, estimate and high stand in order."""
    found = reading_effect(base_of(20, 10), [0.6] * 120)
    assert found.low <= found.fraction <= found.high
