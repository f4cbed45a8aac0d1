"""A sitting's score, pace and changed answers are what the answers say."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import betabinom

from kb.core.ids import AttemptId, QuestionId
from kb.core.model import Attempt, Base
from kb.core.settings import Exam, Study
from kb.services.answer_logging import log_answers
from kb.stats.sitting import (
    Sitting,
    changed_answers,
    find_sittings,
    pace_of,
    parts,
    time_quantiles,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session

AT = datetime(2027, 2, 1, 9, tzinfo=UTC)
TARGET = 108.0


def answers(count: int, right: int, seconds: float | None = TARGET) -> list[Attempt]:
    """So many answers, the first ones right, each taking as long."""
    return [
        Attempt(
            id=AttemptId(str(number)),
            at=AT + timedelta(seconds=number),
            question=QuestionId(f"paper-1:{number}"),
            outcome="right" if number <= right else "wrong",
            seconds=seconds,
            sitting="paper-1",
        )
        for number in range(1, count + 1)
    ]


def test_a_sitting_counts_what_was_right_and_what_was_left_blank() -> None:
    """By hand: of ten items six right, one wrong, three blank."""
    rows = [*answers(10, 6)[:7], *(replace(a, outcome="blank") for a in answers(10, 6)[7:])]
    sitting = Sitting(name="paper-1", day=AT.date(), official=False, answers=tuple(rows))
    assert (sitting.right_count, sitting.item_count, sitting.blank_count) == (6, 10, 3)
    assert sitting.fraction == 0.6


def test_a_sitting_over_midnight_is_of_the_day_it_began() -> None:
    """Two answers of 1 February and one of the 2nd, whose item comes first."""
    rows = answers(3, 3)
    rows[2] = replace(rows[2], question=QuestionId("paper-1:0"), at=AT + timedelta(days=1))
    exam = Exam(name="Q", date=AT.date(), areas=())
    (found,) = find_sittings(Base(exam=exam, study=Study(), attempts=tuple(rows)))
    assert (found.day, found.item_count) == (AT.date(), 3)


def test_items_are_in_the_order_of_the_paper() -> None:
    """By their numbers, 2 before 10; those without a number first, by their letters."""
    names = ["10", "b", "2", "a1", "1"]
    rows = [
        replace(answers(1, 1)[0], question=QuestionId(f"paper-1:{name}"), sitting="s")
        for name in names
    ]
    exam = Exam(name="Q", date=AT.date(), areas=())
    (found,) = find_sittings(Base(exam=exam, study=Study(), attempts=tuple(rows)))
    assert [a.question[8:] for a in found.answers] == ["a1", "b", "1", "2", "10"]


def test_on_pace_is_on_the_target_line() -> None:
    """100 items in 180 minutes are 108 s each; after 50 the clock shows 90 minutes.

    Source: arithmetic.
    """
    pace = pace_of(answers(100, 60), TARGET)
    assert pace is not None
    assert (pace.spent_minutes, pace.target_minutes) == (180, 180)
    assert (pace.behind_item, pace.behind_minutes, pace.long_count) == (0, 0, 0)
    assert (pace.rushed, pace.lost_marks) == (False, 0)
    half = pace_of(answers(50, 30), TARGET)
    assert half is not None
    assert half.spent_minutes == 90


def test_time_lost_early_is_found_where_it_was_lost() -> None:
    """Ten items of 300 s put the clock 32 minutes behind after item 10."""
    slow = [replace(a, seconds=300.0) for a in answers(10, 10)]
    rest = [replace(a, seconds=80.0) for a in answers(100, 100)[10:]]
    pace = pace_of([*slow, *rest], TARGET)
    assert pace is not None
    assert (pace.behind_item, pace.behind_minutes) == (10, 32)
    assert (pace.long_count, pace.long_minutes) == (10, 32)


def test_blanks_cost_what_answered_items_earn() -> None:
    """Ten blank items at 60 of 90 right cost 6.7 marks."""
    blank = [replace(a, outcome="blank") for a in answers(100, 0)[90:]]
    pace = pace_of([*answers(90, 60), *blank], TARGET)
    assert pace is not None
    assert pace.blank_count == 10
    assert pace.lost_marks == pytest.approx(10 * 60 / 90)
    assert (pace.lost_low, pace.lost_high) == tuple(betabinom(10, 60.5, 30.5).ppf([0.1, 0.9]))


def test_a_rushed_last_quarter_costs_what_it_fell_short() -> None:
    """75 items at 80% and 25 rushed ones at 40%, no time left over: ten marks, likely 7 to 13.

    At 80% the 25 would have brought 20, likely 17 to 23; they brought 10. Reference: scipy's
    beta-binomial, shapes 60.5 and 15.5.
    """
    early = [replace(a, seconds=126.0) for a in answers(75, 60)]
    late = [replace(a, seconds=40.0) for a in answers(25, 10)]
    pace = pace_of([*early, *late], TARGET)
    assert pace is not None
    assert pace.rushed
    assert (pace.early_fraction, pace.late_fraction) == (0.8, 0.4)
    assert pace.lost_marks == pytest.approx(10)
    again = betabinom(25, 60.5, 15.5)
    assert (pace.lost_low, pace.lost_high) == (again.ppf(0.1) - 10, again.ppf(0.9) - 10) == (7, 13)


def test_with_time_left_over_nothing_is_put_down_to_time() -> None:
    """Done in 89 of 180 minutes with ten left blank: the clock cost nothing."""
    quick = [replace(a, seconds=59.0) for a in answers(90, 60)]
    blank = [replace(a, seconds=3.0, outcome="blank") for a in answers(10, 0)]
    pace = pace_of([*quick, *blank], TARGET)
    assert pace is not None
    assert (pace.lost_marks, pace.lost_low, pace.lost_high) == (0, 0, 0)


def test_a_hurried_finish_that_went_better_cost_nothing() -> None:
    """75 items at 60%, then 25 at 80% in a third of the time."""
    early = [replace(a, seconds=126.0) for a in answers(75, 45)]
    late = [replace(a, seconds=40.0) for a in answers(25, 20)]
    pace = pace_of([*early, *late], TARGET)
    assert pace is not None
    assert pace.rushed
    assert (pace.lost_marks, pace.lost_low, pace.lost_high) == (0, 0, 0)


def test_rushed_is_against_the_quarters_before() -> None:
    """A quick candidate at 50 s an item throughout did not rush the end."""
    pace = pace_of([replace(a, seconds=50.0) for a in answers(100, 60)], TARGET)
    assert pace is not None
    assert not pace.rushed


def test_without_times_nothing_is_said_of_pace() -> None:
    """Fewer than four items in five timed is too little."""
    timed = answers(100, 50)
    untimed = [replace(a, seconds=None) for a in timed[:21]]
    assert pace_of([*untimed, *timed[21:]], TARGET) is None
    assert pace_of([*untimed[:20], *timed[20:]], TARGET) is not None
    assert pace_of(answers(3, 1, None), TARGET) is None


def test_quantiles_hold_equal_numbers_quickest_first() -> None:
    """Their counts add up to all timed answers."""
    given_ = [replace(a, seconds=float(n)) for n, a in enumerate(answers(100, 50), start=1)]
    groups = time_quantiles(given_)
    assert [(g.low_seconds, g.high_seconds) for g in groups] == [
        (1, 25),
        (26, 50),
        (51, 75),
        (76, 100),
    ]
    assert [g.right_count for g in groups] == [25, 25, 0, 0]
    assert time_quantiles(given_[::-1]) == groups
    assert time_quantiles(given_[:15]) == ()


def test_equal_times_are_in_one_group() -> None:
    """Forty right and 40 wrong at 60 s, then 20 right at 90 s: two groups."""
    given_ = [replace(a, seconds=60.0) for a in answers(80, 40)]
    given_ += [replace(a, seconds=90.0) for a in answers(20, 20)]
    found = time_quantiles(given_)
    assert [(g.low_seconds, g.right_count, g.tried_count) for g in found] == [
        (60, 40, 80),
        (90, 20, 20),
    ]
    assert time_quantiles(given_[:80]) == ()


@pytest.mark.parametrize(
    ("first", "chosen", "key", "found"),
    [
        ("A", "B", "A", (1, 0, 0)),
        ("A", "B", "B", (0, 1, 0)),
        ("A", "B", "C", (0, 0, 1)),
        ("A", "A", "B", (0, 0, 0)),
        ("", "A", "B", (0, 0, 0)),
    ],
)
def test_a_changed_answer_is_one_of_three(
    first: str, chosen: str, key: str, found: tuple[int, int, int]
) -> None:
    """Right to wrong, wrong to right, wrong to wrong; the gain is their balance."""
    outcome = "right" if chosen == key else "wrong"
    one = replace(answers(1, 0)[0], first=first, chosen=chosen, key=key, outcome=outcome)  # type: ignore[arg-type]
    changed = changed_answers([one])
    assert (changed.right_to_wrong, changed.wrong_to_right, changed.wrong_to_wrong) == found
    assert changed.gain == found[1] - found[0]


def test_sittings_are_found_in_order_of_items(session: Callable[..., Session]) -> None:
    """Item 10 comes after item 9, and an item answered twice counts by its last answer."""
    start = session()
    drafts = [replace(a, id=AttemptId("")) for a in answers(12, 6, None)]
    again = replace(drafts[0], at=AT + timedelta(hours=1), outcome="wrong")
    log_answers(start, [*drafts, again], title="t", day_only=False)
    (sitting,) = find_sittings(start.base)
    assert [a.question.partition(":")[2] for a in sitting.answers] == [str(n) for n in range(1, 13)]
    assert (sitting.right_count, sitting.item_count, sitting.official) == (5, 12, False)
    assert [len(part) for part in parts(sitting, 5)] == [5, 5, 2]


@given(st.lists(st.floats(1, 600), min_size=5, max_size=60))
def test_minutes_always_add_up(seconds: list[float]) -> None:
    """Time spent is the sum of the items' times, and what was lost is never negative."""
    given_ = [replace(a, seconds=s) for a, s in zip(answers(len(seconds), 3), seconds, strict=True)]
    pace = pace_of(given_, TARGET)
    assert pace is not None
    assert pace.spent_minutes == pytest.approx(sum(seconds) / 60)
    assert pace.lost_marks >= 0
    assert pace.behind_minutes >= 0


@pytest.mark.parametrize(("last", "lost"), [(1.0, True), (0.5, False)])
def test_a_twentieth_of_the_time_left_over_is_time_enough(last: float, lost: bool) -> None:
    """Twenty items at 100 s have 2,000 s. With 1,900 spent time may have cost the blank one; with
    half a second more to spare it did not.
    """
    rows = [replace(a, seconds=100.0) for a in answers(18, 9)]
    rows += [replace(a, seconds=99.0) for a in answers(1, 1)]
    rows += [replace(a, seconds=last, outcome="blank") for a in answers(1, 0)]
    pace = pace_of(rows, 100.0)
    assert pace is not None
    assert pace.lost_marks == pytest.approx(10 / 19 if lost else 0)


def test_an_item_without_a_time_adds_nothing_to_the_clock() -> None:
    """Nineteen of twenty items of 60 s make 19 minutes, and nineteen were timed."""
    rows = answers(20, 10, 60.0)
    pace = pace_of([replace(rows[0], seconds=None), *rows[1:]], TARGET)
    assert pace is not None
    assert (pace.spent_minutes, pace.timed_count) == (19, 19)


@pytest.mark.parametrize(("count", "groups"), [(15, 0), (16, 4)])
def test_four_timed_items_a_group_are_enough(count: int, groups: int) -> None:
    """Sixteen for quarters."""
    rows = [replace(a, seconds=float(n)) for n, a in enumerate(answers(count, 8), start=1)]
    assert len(time_quantiles(rows)) == groups


def test_a_few_answers_all_right_are_no_proof_of_more() -> None:
    """Eight right of eight, and eight left blank: eight marks, likely 6 to 8. By Jeffreys' prior,
    shapes 8.5 and .5; reference: scipy's beta-binomial.
    """
    blank = [replace(a, outcome="blank") for a in answers(16, 16)[8:]]
    pace = pace_of([*answers(8, 8), *blank], TARGET)
    assert pace is not None
    assert pace.lost_marks == 8
    assert (pace.lost_low, pace.lost_high) == tuple(betabinom(8, 8.5, 0.5).ppf([0.1, 0.9]))
    assert (pace.lost_low, pace.lost_high) == (6, 8)
