"""Whether reading a note works is said by retries, with and without."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId
from kb.core.model import Attempt, Base, Note, Reading
from kb.core.settings import Area, Exam, Study
from kb.stats.reading_effect import (
    PRIOR_FRACTION,
    chance_says_early,
    ratio_of_shares,
    reading_effect,
    reading_trial,
)

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
        written = START + timedelta(hours=12)
        notes.append(
            Note(
                id=note,
                path=f"{n}.md",
                title="T",
                areas=(A,),
                questions=(question,),
                written_at=written,
            )
        )
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
    """Nothing is assumed until retries say otherwise, and it is not enough to speak."""
    found = reading_effect(base_of(0, 0, each=0))
    assert found.fraction == PRIOR_FRACTION
    assert not found.enough


def test_reading_that_helps_is_measured() -> None:
    """Three misses of 30 after reading, 27 of 30 without: 51% fewer, likely -10 to 78%.

    Source: worked by hand. Without reading (27 + 4 x 28/32) / (30 + 4) of 30 were to be expected,
    26.91 misses; (20 + 3) / (20 + 26.91) = .4903 are left, and the bounds lie a factor of
    exp(1.96 (1/23 + 1/28 + .3^2)^.5) = 2.239 away.
    """
    found = reading_effect(base_of(27, 3))
    bounds = (found.fraction, found.low, found.high)
    assert bounds == pytest.approx((0.5097, -0.0980, 0.7811), abs=1e-3)


@pytest.mark.parametrize(("each", "enough"), [(20, True), (19, False)])
def test_few_retries_are_not_enough_to_speak(each: int, enough: bool) -> None:
    """Twenty of each kind are."""
    assert reading_effect(base_of(9, 3, each)).enough is enough


def test_reading_that_does_nothing_is_seen_too() -> None:
    """The same share right with and without leaves the estimate at nothing."""
    found = reading_effect(base_of(10, 10))
    assert found.fraction == pytest.approx(PRIOR_FRACTION, abs=0.02)
    assert found.low < 0 < found.high


def test_retries_before_the_note_was_written_do_not_count() -> None:
    """The same log with every note written after its retry: nothing was compared."""
    base = base_of(27, 3)
    late = START + timedelta(days=3)
    notes = tuple(replace(note, written_at=late) for note in base.notes)
    found = reading_effect(replace(base, notes=notes))
    assert (found.read_count, found.unread_count) == (0, 0)


@pytest.mark.parametrize(("hours", "read"), [(-1, False), (1, True), (49, False)])
def test_a_reading_counts_between_miss_and_retry_only(hours: int, read: bool) -> None:
    """One hour before the miss, one after it, one after the retry two days on."""
    base = base_of(1, 0, each=1)
    reading = replace(base.readings[0], at=START + timedelta(hours=hours))
    found = reading_effect(replace(base, readings=(reading,)))
    assert (found.read_count, found.unread_count) == ((1, 1) if read else (0, 2))


def test_days_since_the_miss_are_matched_in_days() -> None:
    """Read retries after two days, unread ones after twelve: other strata, nothing to compare.

    Worked by hand: in the stratum of the read ones there is no unread one, so each is expected to
    miss as all unread ones do, (0 + 1) / (30 + 2) of 30; the ratio is 20 / (20 + .9375) = .9552.
    """
    base = base_of(30, 30)
    moved = tuple(
        replace(a, at=a.at + timedelta(days=10))
        if a.id.endswith("-2") and int(a.id[:-2]) > 29
        else a
        for a in base.attempts
    )
    found = reading_effect(replace(base, attempts=moved))
    assert found.fraction == pytest.approx(1 - 0.9552, abs=1e-3)


def test_a_ratio_of_shares_as_published() -> None:
    """189 of 11,034 and 104 of 11,037 heart attacks: ratio 1.82, 1.43 to 2.30.

    Source: Steering Committee of the Physicians' Health Study, 1989, as worked through in Agresti,
    Categorical data analysis; figures from memory.
    """
    assert ratio_of_shares(189, 11034, 104, 11037) == pytest.approx((1.82, 1.43, 2.31), abs=0.01)


def test_chance_puts_about_half_early_and_always_the_same() -> None:
    """Of 1,000 pairs 450 to 550 (more than three standard deviations), twice alike."""
    pairs = [(NoteId(f"n{n}"), AttemptId(f"m{n}")) for n in range(1000)]
    early = [chance_says_early(*pair) for pair in pairs]
    assert 450 < sum(early) < 550
    assert early == [chance_says_early(*pair) for pair in pairs]


def test_a_trial_goes_by_what_chance_said_not_by_what_was_read() -> None:
    """Every early note's retry right but one, every late one's wrong but one; none was read.

    Worked by hand: the ratio of the two shares of misses, 1 / early over (late - 1) / late.
    """
    base = base_of(0, 0)
    early = {
        a.question: chance_says_early(NoteId(f"n{a.question[2:]}"), a.id)
        for a in base.attempts
        if a.id.endswith("-0")
    }
    spared = {next(q for q in early if early[q]), next(q for q in early if not early[q])}
    attempts = tuple(
        replace(a, outcome="right" if early[a.question] != (a.question in spared) else "wrong")
        if a.id.endswith("-2")
        else a
        for a in base.attempts
    )
    found = reading_trial(replace(base, attempts=attempts, readings=()))
    assert found is not None
    many, few = sum(early.values()), sum(not own for own in early.values())
    assert (found.early_count, found.late_count) == (many, few)
    assert found.fraction == pytest.approx(1 - (1 / many) / ((few - 1) / few))


def test_the_interval_holds_the_estimate() -> None:
    """Low, estimate and high stand in order."""
    found = reading_effect(base_of(20, 10))
    assert found.low <= found.fraction <= found.high
