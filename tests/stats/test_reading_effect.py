"""Whether reading a note works is said by retries, with and without."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId
from kb.core.model import Attempt, Base, Note, Reading, ReadingChoice
from kb.core.settings import Area, Exam, Study
from kb.stats.reading_effect import (
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
    assert found.fraction == 0
    assert not found.enough


def test_reading_that_helps_is_measured() -> None:
    """Three misses of 30 after reading, 27 of 30 without: 51% fewer, -51 to 84%.

    Source: worked by hand. Without reading (27 + 4 x 28/32) / (30 + 4) of 30 were to be expected,
    26.91 misses; (20 + 3) / (20 + 26.91) = .4903 are left, and the bounds lie a factor of
    exp(1.96 (1/23 + 1/28 + .5^2)^.5) = 3.080 away.
    """
    found = reading_effect(base_of(27, 3))
    bounds = (found.fraction, found.low, found.high)
    assert bounds == pytest.approx((0.5097, -0.5101, 0.8408), abs=1e-3)


@pytest.mark.parametrize(("each", "enough"), [(20, True), (19, False)])
def test_few_retries_are_not_enough_to_speak(each: int, enough: bool) -> None:
    """Twenty of each kind are."""
    assert reading_effect(base_of(9, 3, each)).enough is enough


def test_reading_that_does_nothing_is_seen_too() -> None:
    """The same share right with and without leaves the estimate at nothing."""
    found = reading_effect(base_of(10, 10))
    assert found.fraction == pytest.approx(0, abs=0.02)
    assert found.low < 0 < found.high


def test_retries_before_the_note_was_written_do_not_count() -> None:
    """The same log with every note written after its retry: nothing was compared."""
    base = base_of(27, 3)
    late = START + timedelta(days=3)
    notes = tuple(replace(note, written_at=late) for note in base.notes)
    found = reading_effect(replace(base, notes=notes))
    assert (found.read_count, found.unread_count) == (0, 0)


@pytest.mark.parametrize(
    ("hours", "read"), [(-1, False), (0, True), (1, True), (48, False), (49, False)]
)
def test_a_reading_counts_between_miss_and_retry_only(hours: int, read: bool) -> None:
    """One hour before the miss, at the miss, one after it; at the retry two days on, and after."""
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
    """A randomised trial, 189 of 11,034 and 104 of 11,037 heart attacks: 1.82, 1.43 to 2.30.

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


def with_choices(base: Base, early: dict[str, bool], days: float = 1.0) -> Base:
    """The base with a choice for each of these questions' notes, so long after the first miss."""
    choices = tuple(
        ReadingChoice(
            at=START + timedelta(days=days),
            note=NoteId(f"n{question[2:]}"),
            miss=AttemptId(f"{question[2:]}-0"),
            early=own,
        )
        for question, own in early.items()
    )
    return replace(base, reading_choices=choices)


def test_a_trial_goes_by_what_the_log_says_was_chosen_not_by_what_was_read() -> None:
    """Thirty early, of which 6 are missed again, thirty late, of which 15; only late ones read.

    Worked by hand: 6/30 over 15/30 is .4, and its interval a factor of
    exp(1.96 (1/6 - 1/30 + 1/15 - 1/30)^.5) = 2.226 either way.
    """
    base = base_of(24, 15)
    early = {f"q:{n}": n < 30 for n in range(60)}
    readings = tuple(
        Reading(id=str(n), at=START + timedelta(days=1.5), note=NoteId(f"n{n}"))
        for n in range(30, 60)
    )
    found = reading_trial(with_choices(replace(base, readings=readings), early))
    assert found is not None
    assert (found.read_count, found.unread_count) == (30, 30)
    bounds = (found.fraction, found.low, found.high)
    assert bounds == pytest.approx((0.6, 1 - 0.4 * 2.226, 1 - 0.4 / 2.226), abs=1e-3)


def test_only_retries_after_their_choice_belong_to_a_trial() -> None:
    """A choice written down after the retry, or for another miss, says nothing of it."""
    base, early = base_of(24, 15), {f"q:{n}": n < 30 for n in range(60)}
    assert reading_trial(base) is None
    just = reading_trial(with_choices(base, early, days=2.0))  # at the moment of the first retry
    assert just is not None
    assert (just.read_count, just.unread_count) == (30, 30)
    assert reading_trial(with_choices(base, early, days=2.5)) is None
    chosen = with_choices(base, early)
    other = tuple(replace(one, miss=AttemptId("gone")) for one in chosen.reading_choices)
    assert reading_trial(replace(chosen, reading_choices=other)) is None


def test_the_interval_holds_the_estimate() -> None:
    """Low, estimate and high stand in order."""
    found = reading_effect(base_of(20, 10))
    assert found.low <= found.fraction <= found.high


def test_both_kinds_of_retry_have_to_be_enough() -> None:
    """Twenty read and nineteen unread are not, nor the other way round."""
    base = base_of(9, 3, 20)
    fewer = tuple(a for a in base.attempts if a.question != "q:39")
    assert not reading_effect(replace(base, attempts=fewer)).enough
    fewer = tuple(a for a in base.attempts if a.question != "q:0")
    assert not reading_effect(replace(base, attempts=fewer)).enough


def test_without_unread_retries_there_is_nothing_to_compare() -> None:
    """Thirty read ones, all right, or thirty unread ones, all wrong: no effect is claimed, and the
    bounds are those of the starting value and the misses without reading (see the first example).
    """
    base = base_of(30, 0)
    read = tuple(a for a in base.attempts if int(a.question[2:]) < 30)
    unread = tuple(a for a in base.attempts if int(a.question[2:]) >= 30)
    for own, missed in ((read, 0), (unread, 30)):
        found = reading_effect(replace(base, attempts=own))
        factor = math.exp(1.96 * math.sqrt(1 / 20 + 1 / (missed + 1) + 0.5**2))
        assert found.fraction == 0
        assert (found.low, found.high) == pytest.approx((1 - factor, 1 - 1 / factor))


@pytest.mark.parametrize(
    ("days", "alike"), [(0.9, False), (1, True), (6.9, True), (7, False)], ids=str
)
def test_retries_within_a_day_a_week_and_later_are_strata(days: float, alike: bool) -> None:
    """Read ones come back after two days. Unread ones of the same stratum say what to expect of
    them: (0 + 4 x 1/32) / 34 of 30; those of another one only by the share over all, 1/32 of 30.
    """
    base = base_of(30, 30)
    moved = tuple(
        replace(a, at=base.attempts[n].at + timedelta(days=days))
        if a.id.endswith("-2") and int(a.id[:-2]) > 29
        else a
        for a in base.attempts
        for n in [next(i for i, b in enumerate(base.attempts) if b.id == f"{a.id[:-2]}-0")]
    )
    written = tuple(replace(note, written_at=START) for note in base.notes)
    found = reading_effect(replace(base, attempts=moved, notes=written))
    expected = 30 * (4 / 32 / 34 if alike else 1 / 32)
    assert found.fraction == pytest.approx(1 - 20 / (20 + expected))


def test_how_often_it_was_missed_is_a_stratum_too() -> None:
    """Once, twice, three times or more: unread retries after two misses are no match for one."""
    base = base_of(30, 30)
    extra = tuple(
        replace(a, id=AttemptId(f"{a.id}-before"), at=a.at - timedelta(hours=9))
        for a in base.attempts
        if a.id.endswith("-0") and int(a.id[:-2]) > 29
    )
    attempts = tuple(sorted(base.attempts + extra, key=lambda a: a.at))
    found = reading_effect(replace(base, attempts=attempts))
    assert found.fraction == pytest.approx(1 - 20 / (20 + 30 / 32))


@pytest.mark.parametrize(("before", "alike"), [(1, False), (2, True), (3, True)])
def test_three_misses_or_more_are_one_stratum(before: int, alike: bool) -> None:
    """Read ones were missed three times, unread ones once more than `before`. With a match,
    4/32 / 34 of 30 are to be expected, without one 1/32 of 30.
    """
    base = base_of(30, 30)
    extra = tuple(
        replace(a, id=AttemptId(f"{a.id}-{n}"), at=a.at - timedelta(hours=9 * n))
        for a in base.attempts
        if a.id.endswith("-0")
        for n in range(1, (2 if int(a.id[:-2]) < 30 else before) + 1)
    )
    attempts = tuple(sorted(base.attempts + extra, key=lambda a: a.at))
    found = reading_effect(replace(base, attempts=attempts))
    expected = 30 * (4 / 32 / 34 if alike else 1 / 32)
    assert found.fraction == pytest.approx(1 - 20 / (20 + expected))


def test_answers_that_were_right_are_no_misses() -> None:
    """Unread ones were right twice before their one miss: still a match for the read ones."""
    base = base_of(30, 30)
    extra = tuple(
        replace(a, id=AttemptId(f"{a.id}-{n}"), at=a.at - timedelta(hours=9 * n), outcome="right")
        for a in base.attempts
        if a.id.endswith("-0") and int(a.id[:-2]) > 29
        for n in (1, 2)
    )
    attempts = tuple(sorted(base.attempts + extra, key=lambda a: a.at))
    found = reading_effect(replace(base, attempts=attempts))
    assert found.fraction == pytest.approx(1 - 20 / (20 + 30 * 4 / 32 / 34))


def test_a_ratio_of_small_shares_by_hand() -> None:
    """4 of 10 against 8 of 12: .6, and a factor of exp(1.96 (1/4 - 1/10 + 1/8 - 1/12)^.5)."""
    factor = math.exp(1.96 * math.sqrt(1 / 4 - 1 / 10 + 1 / 8 - 1 / 12))
    assert ratio_of_shares(4, 10, 8, 12) == pytest.approx((0.6, 0.6 / factor, 0.6 * factor))


@pytest.mark.parametrize(
    ("early", "late", "spared", "speaks"),
    [
        (20, 20, (), True),
        (19, 25, (), False),
        (25, 19, (), False),
        (20, 20, (True,), False),
        (20, 20, (False,), False),
    ],
)
def test_a_trial_needs_twenty_in_each_half(
    early: int, late: int, spared: tuple[bool, ...], speaks: bool
) -> None:
    """One fewer on either side says nothing; nor does a half without a miss."""
    base = base_of(0, 0)
    halves = {f"q:{n}": n < early for n in range(early + late)}
    attempts = tuple(
        replace(a, outcome="right")
        if a.id.endswith("-2") and halves.get(a.question) in spared
        else a
        for a in base.attempts
    )
    found = reading_trial(with_choices(replace(base, attempts=attempts), halves))
    assert (found is not None) is speaks
