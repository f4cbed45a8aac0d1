"""The rules of the plan, one by one, against brute force on small cases and cases by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.core.ids import AreaId, NoteId
from kb.core.settings import PlanSettings
from kb.planning.pace import Pace
from kb.planning.paper_days import PaperWork
from kb.planning.plan_records import AreaWork, Plan, Returning, Spent, Work
from kb.planning.reading_list import Candidate
from kb.planning.scheduler import order_areas, schedule, split_new, without_breaks
from kb.planning.study_days import StudyDay

START = date(2027, 3, 1)
EVEN = Pace(seconds=60, miss_fraction=0, retry_seconds=60, retry_miss_fraction=0, review_seconds=0)
"""A minute a question and nothing missed, so that minutes are questions."""
SETTINGS = PlanSettings()


def day(number: int, minutes: int, **more: object) -> StudyDay:
    """One day of study."""
    own = StudyDay(
        day=START + timedelta(days=number), shift="day", minutes=minutes, set_minutes=minutes
    )
    return replace(own, **more)  # type: ignore[arg-type]


def area(name: str, count: int, worth: float = 1.0) -> AreaWork:
    """So many questions."""
    return AreaWork(area=AreaId(name), count=count, worth=worth)


def back(number: int, count: int, right: int = 0) -> Returning:
    """Missed questions that come back on a day."""
    return Returning(due=START + timedelta(days=number), right_count=right, count=count)


def note(name: str, minutes: float = 1.0, due: int = 0) -> Candidate:
    """A note due on a day."""
    return Candidate(
        note=NoteId(name),
        title=name,
        area=AreaId("a"),
        seconds=60 * minutes,
        marks=1.0,
        failing=False,
        due=START + timedelta(days=due),
    )


def planned(work: Work, *minutes: int, far: int = 20, own: PlanSettings = SETTINGS) -> Plan:
    """A plan over these days, the exam so many days after the last of them."""
    days = [day(number, own_minutes) for number, own_minutes in enumerate(minutes)]
    return schedule(days, work, own, START + timedelta(days=len(minutes) - 1 + far))


def test_a_question_costs_its_answer_and_the_review_of_its_misses() -> None:
    """Rule 1: 90 s and a third wrong at 120 s of review is 130 s, so two hours hold 55."""
    pace = Pace(seconds=90, miss_fraction=1 / 3, review_seconds=120)
    assert pace.new_cost == pytest.approx(130.0)
    plan = planned(Work(areas=(area("a", 500),), pace=pace), 120)
    assert plan.days[0].new_count == 55
    assert plan.days[0].used_minutes <= 120


def test_retries_are_measured_apart() -> None:
    """Rule 1: 60 s and a tenth wrong are 72 s: 10 in a tenth of two hours."""
    pace = Pace(seconds=90, retry_seconds=60, retry_miss_fraction=0.1, review_seconds=120)
    work = Work(areas=(area("a", 500),), returning=(back(0, 300),), pace=pace)
    assert planned(work, 120).days[0].missed_count == 10


@given(
    st.integers(0, 12), st.integers(0, 12), st.integers(0, 20), st.integers(0, 6), st.integers(0, 3)
)
@settings(deadline=None)
def test_a_day_holds_notes_then_missed_up_to_a_tenth_then_new(
    due: int, new: int, minutes: int, notes: int, long: int
) -> None:
    """Rule 2 against every other pair: none that keeps the rules holds more missed, then new."""
    work = Work(
        areas=(area("a", new),) if new else (),
        returning=(back(0, due),) if due else (),
        notes=tuple(note(f"n{i}", long) for i in range(notes)),
        pace=EVEN,
    )
    only = planned(work, minutes).days[0]
    assert only.note_minutes <= minutes / 4
    left = minutes - only.note_minutes
    allowed = [
        (missed, fresh)
        for missed, fresh in product(range(due + 1), range(new + 1))
        if missed + fresh <= left + 1e-9 and (missed <= left / 10 + 1e-9 or fresh == new)
    ]
    first = min(due, int(left / 10 + 1e-9))
    fresh = min(new, int(left - first + 1e-9))
    again = min(due - first, int(left - first - fresh + 1e-9))
    assert (only.missed_count, only.new_count) == (first + again, fresh)
    assert (only.missed_count, only.new_count) in allowed
    rest = [pair for pair in allowed if pair[0] <= left / 10 + 1e-9]
    assert sum((only.missed_count, only.new_count)) >= max(sum(pair) for pair in rest)


def test_in_the_last_six_days_missed_questions_come_first() -> None:
    """By hand: seven days before, 4 of 40 minutes; from six days before, all that are due."""
    work = Work(areas=(area("a", 900),), returning=(back(0, 300),), pace=EVEN)
    days = [day(number, 40) for number in range(7)]
    plan = schedule(days, work, SETTINGS, START + timedelta(days=7))
    assert [(d.missed_count, d.new_count) for d in plan.days[:3]] == [(4, 36), (40, 0), (40, 0)]


def test_a_missed_question_comes_back_after_three_days_and_again_until_right_twice() -> None:
    """Rule 3 by hand: 8 missed on day 0 and all right later come on day 3, then once more."""
    pace = replace(EVEN, miss_fraction=1.0)
    plan = planned(Work(areas=(area("a", 8),), pace=pace), *[60] * 14)
    assert [d.missed_count for d in plan.days[:4]] == [0, 0, 0, 8]
    assert sum(d.missed_count for d in plan.days) == 16


def test_a_question_missed_again_begins_again() -> None:
    """Rule 3: what is never right comes back every three days."""
    pace = replace(EVEN, retry_miss_fraction=1.0)
    plan = planned(Work(returning=(back(0, 5),), pace=pace), *[60] * 10, far=200)
    assert [d.missed_count for d in plan.days] == [5, 0, 0, 5, 0, 0, 5, 0, 0, 5]


@given(st.lists(st.tuples(st.integers(1, 6), st.integers(0, 9)), min_size=1, max_size=5))
def test_no_other_order_of_areas_brings_marks_earlier(rows: list[tuple[int, int]]) -> None:
    """Rule 5 against every order (Smith 1956): marks x time done is least."""
    areas = [area(f"a{i}", count, worth) for i, (count, worth) in enumerate(rows)]

    def cost(order: tuple[AreaWork, ...]) -> float:
        total, done = 0.0, 0
        for one in order:
            for _ in range(one.count):
                done += 1
                total += one.worth * done
        return total

    assert cost(order_areas(areas, ())) == min(cost(order) for order in permutations(areas))


def test_areas_named_first_come_first() -> None:
    """The areas of `area_order` stand before all others, in the order given."""
    rows = [area("a", 5, 9.0), area("b", 5, 1.0), area("c", 5, 2.0)]
    found = order_areas(rows, (AreaId("b"), AreaId("c")))
    assert [one.area for one in found] == ["b", "c", "a"]


@given(st.lists(st.integers(1, 9), min_size=1, max_size=5), st.integers(0, 30))
def test_two_or_three_areas_share_a_day(counts: list[int], wanted: int) -> None:
    """Rule 5 against every first few areas: as many as asked or as there are, and of no more areas
    than it takes to fill three quarters of the day by halves.
    """
    areas = [area(f"a{i}", count) for i, count in enumerate(counts)]
    given_ = dict(split_new(areas, wanted))
    half = -(-wanted // 2)
    assert sum(given_.values()) == min(wanted, sum(counts))
    if sum(min(count, half) for count in counts[:2]) >= wanted:
        assert all(number <= half for number in given_.values())
    enough = [
        first
        for first in range(1, len(counts) + 1)
        if sum(min(count, half) for count in counts[:first]) >= wanted - wanted // 4
        and sum(counts[:first]) >= wanted
    ]
    assert len(given_) <= min(enough, default=len(counts))


def test_an_area_that_runs_out_is_joined_by_the_next() -> None:
    """By hand: 5 left of the first, so 27 of the second and 22 of the third make 54."""
    rows = [area("a", 5), area("b", 90), area("c", 90)]
    assert split_new(rows, 54) == (("a", 5), ("b", 27), ("c", 22))


def test_no_day_has_a_handful_of_a_third_area() -> None:
    """By hand: 19 left of the first and half a day is 27, so 35 of the second and none other."""
    rows = [area("a", 19), area("b", 90), area("c", 90)]
    assert split_new(rows, 54) == (("a", 19), ("b", 35))


def test_what_today_left_comes_first_tomorrow() -> None:
    """Rule 5: nothing done, the same areas stand first the day after."""
    work = Work(areas=(area("a", 200), area("b", 200), area("c", 200)), pace=EVEN)
    days = [day(number, 60) for number in range(5)]
    exam = START + timedelta(days=25)
    today, later = schedule(days, work, SETTINGS, exam), schedule(days[1:], work, SETTINGS, exam)
    assert later.days[0].new == today.days[0].new


def test_work_done_as_planned_leaves_tomorrow_as_it_was() -> None:
    """Rule 12: ahead or behind, tomorrow's areas are those foreseen today."""
    for count in (100, 2000):
        work = Work(areas=(area("a", count), area("b", count), area("c", count)), pace=EVEN)
        days = [day(number, 60) for number in range(60)]
        exam = START + timedelta(days=80)
        plan = schedule(days, work, SETTINGS, exam)
        gone = dict(plan.days[0].new)
        left = tuple(replace(one, count=one.count - gone.get(one.area, 0)) for one in work.areas)
        after = schedule(days[1:], replace(work, areas=left), SETTINGS, exam)
        assert [a for a, _ in after.days[0].new] == [a for a, _ in plan.days[1].new]


def test_double_work_moves_things_forward() -> None:
    """Rule 12: with two days' work done in one, fewer new questions stay unmet than planned."""
    work = Work(areas=(area("a", 900),), pace=EVEN)
    days = [day(number, 60) for number in range(10)]
    exam = START + timedelta(days=20)
    plan = schedule(days, work, SETTINGS, exam)
    gone = sum(d.new_count for d in plan.days[:2])
    left = replace(work, areas=(area("a", 900 - gone),))
    assert schedule(days[1:], left, SETTINGS, exam).unmet_count == plan.unmet_count - 60


def paper(name: str, parts: int = 2) -> PaperWork:
    """A paper of a hundred questions and three hours a part."""
    return PaperWork(
        name=name,
        title=name,
        items=100 * parts,
        parts=tuple(range(1, parts + 1)),
        part_count=parts,
        part_minutes=180,
    )


def test_a_paper_is_followed_by_its_review() -> None:
    """Rule 6 by hand: 360 minutes are followed by 150 of review, 120 of them on the next day."""
    days = [day(n, 240 if n == 2 else 120, free=n == 2) for n in range(12)]
    exam = START + timedelta(days=12)
    plan = schedule(days, Work(papers=(paper("p"),), pace=EVEN), SETTINGS, exam)
    assert [(d.paper.text if d.paper else "", d.review_minutes) for d in plan.days[2:5]] == [
        ("p, both parts", 0),
        ("", 120),
        ("", 30),
    ]
    assert plan.days[2].minutes == 360


def test_days_between_papers_are_ordinary_days() -> None:
    """Rule 8: with a paper left, all other days before the last three hold new questions."""
    days = [day(n, 240, free=True) for n in range(12)]
    exam = START + timedelta(days=12)
    work = Work(papers=(paper("p"),), areas=(area("a", 9000),), pace=EVEN)
    plan = schedule(days, work, SETTINGS, exam)
    idle = [d.day for d in plan.days[:9] if not d.new and not d.paper]
    assert idle == []


def test_the_last_three_days_are_at_half_load_and_the_eve_at_an_hour() -> None:
    """Rule 10: notes and missed questions alone, half of the minutes, at most 60 on the eve."""
    work = Work(areas=(area("a", 900),), returning=(back(0, 900),), notes=(note("n"),), pace=EVEN)
    days = [day(number, 240) for number in range(8)]
    plan = schedule(days, work, SETTINGS, START + timedelta(days=8))
    assert [d.minutes for d in plan.days] == [240] * 5 + [120, 120, 60]
    assert [d.new_count > 0 for d in plan.days] == [True] * 2 + [False] * 6
    assert all(d.used_minutes <= d.minutes + 1e-6 for d in plan.days)


def test_free_days_stay_free_in_the_last_days() -> None:
    """Rule 10: a day without minutes gets none."""
    days = [day(number, 0 if number == 4 else 240) for number in range(6)]
    work = Work(returning=(back(0, 900),), pace=EVEN)
    plan = schedule(days, work, SETTINGS, START + timedelta(days=6))
    assert plan.days[4].used_minutes == 0


def test_behind_new_questions_of_least_marks_stay_unmet() -> None:
    """Rule 11: the area worth least is short, nothing is drawn at random, and all is counted."""
    work = Work(areas=(area("a", 100, 3), area("b", 100, 2), area("c", 100, 1)), pace=EVEN,
                mixed_count=50)  # fmt: skip
    plan = planned(work, *[40] * 5)
    assert plan.unmet == (("c", 100),)
    assert plan.unmet_count + sum(d.new_count for d in plan.days) == 300
    assert sum(d.mixed_count for d in plan.days) == 0


def test_behind_papers_keep_to_a_quarter_of_the_time() -> None:
    """Rule 11 by hand: 40 hours hold one paper with review (8.5 h) but not two (17 h)."""
    days = [day(n, 240, free=True) for n in range(10)]
    exam = START + timedelta(days=16)
    work = Work(papers=(paper("p"), paper("mock")), areas=(area("a", 9000),), pace=EVEN)
    plan = schedule(days, work, SETTINGS, exam)
    assert [d.paper.paper.name for d in plan.days if d.paper] == ["mock"]
    assert plan.papers_out == (("p", "papers already take a quarter of the time left"),)
    ahead = schedule(days, replace(work, areas=(area("a", 10),)), SETTINGS, exam)
    assert sum(d.paper is not None for d in ahead.days) == 2


@pytest.mark.parametrize("count", [60, 300, 700])
def test_ahead_new_questions_end_five_weeks_before(count: int) -> None:
    """Rule 12: the least share of each day that still ends them in time; the rest is spare."""
    work = Work(areas=(area("a", count),), pace=EVEN)
    plan = planned(work, *[30] * 90, far=1)
    exam = START + timedelta(days=90)
    assert plan.new_end is not None
    assert plan.new_end <= exam - timedelta(days=35)
    assert not plan.behind
    least = -(-count // 56)
    assert max(d.new_count for d in plan.days) <= least + 1
    assert plan.days[0].spare_minutes >= 30 - least - 1


def test_what_was_met_today_is_taken_off_the_share_of_today() -> None:
    """By hand: 300 questions in 56 days are six a day, a fifth of its half hour; with three of them
    met already three are left for today.
    """
    work = Work(areas=(area("a", 297),), pace=EVEN, spent=Spent(other=3))
    plan = planned(work, *[30] * 90, far=1)
    assert [d.new_count for d in plan.days[:3]] == [3, 6, 6]


def test_random_repeats_come_when_all_is_met() -> None:
    """What is left after the last new question goes to repeats, then to rest."""
    work = Work(areas=(area("a", 20),), mixed_count=50, pace=EVEN)
    plan = planned(work, 30, 30, 30, 30)
    assert [d.new_count for d in plan.days] == [20, 0, 0, 0]
    assert [d.mixed_count for d in plan.days] == [10, 30, 10, 0]
    assert plan.days[3].spare_minutes == 30


def test_released_questions_come_last() -> None:
    """Rule 9: held-back questions are new ones from their day, once all others are met."""
    work = Work(
        areas=(area("a", 10),),
        released=(area("a", 30),),
        released_from=START + timedelta(days=2),
        pace=EVEN,
    )
    plan = planned(work, 20, 20, 20, 20)
    assert [d.new_count for d in plan.days] == [10, 0, 20, 10]


def test_what_was_done_today_is_taken_off_its_own_kind() -> None:
    """Of 40 minutes, 4 for missed ones: with 3 of these done, 1 is left, and 36 for new."""
    work = Work(areas=(area("a", 99),), returning=(back(0, 99),), pace=EVEN)
    plan = planned(replace(work, spent=Spent(missed=3)), 40)
    assert (plan.days[0].missed_count, plan.days[0].new_count) == (1, 36)


def test_breaks_are_no_study() -> None:
    """After 50 minutes of study come ten of break, and none comes at the end."""
    own = PlanSettings(break_after_minutes=50, break_minutes=10)
    assert [without_breaks(minutes, own) for minutes in (50, 60, 70, 120)] == [50, 50, 60, 100]
    plan = planned(Work(areas=(area("a", 999),), pace=EVEN), 120, own=own)
    assert (plan.days[0].minutes, plan.days[0].break_minutes) == (100, 10)


@given(
    st.lists(st.sampled_from([0, 20, 60, 120, 240]), min_size=1, max_size=30),
    st.lists(st.integers(0, 60), min_size=1, max_size=4),
    st.integers(0, 80),
    st.integers(0, 5),
    st.integers(1, 3),
)
@settings(deadline=None, max_examples=60)
def test_no_day_holds_more_than_its_minutes(
    minutes: list[int], counts: list[int], due: int, notes: int, papers: int
) -> None:
    """Whatever there is to do, each day's work fits, and no question is lost or made up."""
    work = Work(
        areas=tuple(area(f"a{i}", count) for i, count in enumerate(counts) if count),
        returning=(back(0, due),) if due else (),
        notes=tuple(note(f"n{i}") for i in range(notes)),
        papers=tuple(paper(f"p{i}") for i in range(papers)),
        mixed_count=40,
        pace=Pace(),
    )
    days = [day(n, m, free=m == 240, after_night=m == 20) for n, m in enumerate(minutes)]
    plan = schedule(days, work, SETTINGS, START + timedelta(days=len(minutes)))
    for one in plan.days:
        assert one.used_minutes <= one.minutes + 1e-6
        assert not (one.after_night and one.note_count)
    assert sum(d.new_count for d in plan.days) + plan.unmet_count == sum(counts)
    eve = plan.days[-1]
    assert eve.paper is None
    assert eve.minutes <= 60


@pytest.mark.parametrize(
    ("parts", "minutes", "review", "breaks"),
    [(2, 60, 0, 10), (1, 60, 0, 0), (1, 211, 1, 10), (2, 431, 1, 20), (1, 271, 51, 20)],
)
def test_breaks_of_a_day_with_a_paper(parts: int, minutes: int, review: int, breaks: int) -> None:
    """By hand, ten minutes each: between two parts, after the last one if a review follows at once,
    and between the spells of 50 minutes of that review.
    """
    own = PlanSettings(break_after_minutes=50, break_minutes=10)
    work = Work(papers=(paper("p", parts),), pace=EVEN)
    days = [day(0, minutes, free=True), *(day(n, 0) for n in range(1, 9))]
    sat = schedule(days, work, own, START + timedelta(days=9)).days[0]
    assert (sat.paper_minutes, sat.review_minutes) == (180 * parts, review)
    assert sat.break_minutes == breaks


def test_the_last_look_is_spread_over_the_days_with_study() -> None:
    """By hand: six notes of ten minutes; of the last three days one is without study, so that the
    others take three each, and days before the last three do not count.
    """
    notes = tuple(note(f"n{n}", 10) for n in range(6))
    days = [day(n, minutes) for n, minutes in enumerate((0, 0, 240, 0, 240))]
    days = [*(day(n - 5, 240) for n in range(5)), *days]
    plan = schedule(days, Work(notes=notes, pace=EVEN), SETTINGS, START + timedelta(days=5))
    assert [d.note_count for d in plan.days[-3:]] == [3, 0, 3]


def test_a_break_comes_only_between_spells() -> None:
    """By hand, 50 minutes of study and ten of break: 100 minutes hold one break, 101 hold two."""
    own = PlanSettings(break_after_minutes=50, break_minutes=10)
    for minutes, breaks in ((50, 0), (110, 10), (121, 20)):
        plan = planned(Work(areas=(area("a", 999),), pace=EVEN), minutes, own=own)
        assert plan.days[0].break_minutes == breaks


def test_the_tenth_of_a_day_counts_what_was_tried_already() -> None:
    """By hand: 10 of 50 minutes went to new questions, so 5 of the whole 50 are for missed ones."""
    work = Work(areas=(area("a", 99),), returning=(back(0, 99),), pace=EVEN)
    plan = planned(replace(work, spent=Spent(other=10)), 50)
    assert (plan.days[0].missed_count, plan.days[0].new_count) == (5, 35)


def test_a_quarter_of_a_day_is_for_notes_less_what_was_read_today() -> None:
    """By hand: 10 of 40 minutes, 4 of which were read already: six notes of a minute."""
    notes = tuple(note(f"n{n}") for n in range(20))
    work = Work(areas=(area("a", 999),), notes=notes, pace=EVEN)
    assert planned(work, 40).days[0].note_count == 10
    assert planned(replace(work, spent=Spent(notes=4)), 40).days[0].note_count == 6


def test_breaks_are_no_time_for_notes() -> None:
    """By hand: of an hour 50 minutes are study where a break follows 50, and a quarter of them is
    12.5: two notes of five minutes, not three.
    """
    notes = tuple(note(f"n{n}", 5) for n in range(9))
    work = Work(areas=(area("a", 999),), notes=notes, pace=EVEN)
    own = PlanSettings(break_after_minutes=50, break_minutes=10)
    assert planned(work, 60, own=own).days[0].note_count == 2
    assert planned(work, 60).days[0].note_count == 3


def test_missed_questions_not_tried_once_are_counted() -> None:
    """By hand: half of ten minutes on each of the last two days try 10 of 50, so 40 are left."""
    plan = planned(Work(returning=(back(0, 50),), pace=EVEN), 10, 10, far=1)
    assert (plan.missed_count, plan.missed_left) == (50, 40)


def test_a_day_without_any_day_ahead_plans_nothing() -> None:
    """All that is new stays unmet."""
    plan = schedule((), Work(areas=(area("a", 9), area("b", 0)), pace=EVEN), SETTINGS, START)
    assert (plan.days, plan.unmet, plan.new_count) == ((), (("a", 9),), 9)


def test_a_paper_without_a_day_is_named_once_with_its_reason() -> None:
    """A check by the name of what it is on."""
    check = replace(paper("held-back questions", 1), window=(9, 6))
    work = Work(papers=(paper("p"), check), pace=EVEN)
    assert planned(work, 60, 60).papers_out == (
        ("p", "no day left has 180 minutes for it"),
        ("a check on held-back questions", "no day left has 180 minutes for it"),
    )


def test_a_review_left_over_is_done_first() -> None:
    """By hand: of 90 minutes of review 60 fit on the first day and 30 on the second."""
    work = Work(areas=(area("a", 99),), reviews=(("p", 90),), pace=EVEN)
    plan = planned(work, 60, 60)
    assert [(d.review, d.review_minutes, d.new_count) for d in plan.days] == [
        ("p", 60, 0),
        ("p", 30, 30),
    ]


def test_what_is_missed_in_a_paper_comes_back() -> None:
    """By hand: 200 questions, a tenth of them wrong, are 20 to try again three days later."""
    days = [day(n, 360 if n == 0 else 240, free=n == 0) for n in range(14)]
    work = Work(papers=(paper("p"),), pace=replace(EVEN, miss_fraction=0.1))
    plan = schedule(days, work, SETTINGS, START + timedelta(days=14))
    (sat,) = [n for n, d in enumerate(plan.days) if d.paper]
    assert [d.missed_count for d in plan.days[sat : sat + 4]] == [0, 0, 0, 20]


def test_no_new_question_comes_in_the_last_three_days() -> None:
    """The first of them is three days before the exam."""
    work = Work(areas=(area("a", 9000),), pace=EVEN)
    days = [day(number, 60) for number in range(6)]
    plan = schedule(days, work, SETTINGS, START + timedelta(days=6))
    assert [d.new_count for d in plan.days] == [60, 60, 60, 0, 0, 0]
    assert [d.minutes for d in plan.days] == [60, 60, 60, 30, 30, 30]


def test_reviews_are_done_one_after_the_other() -> None:
    """By hand: 100 minutes and then 40, in days of an hour: what is begun is ended first."""
    work = Work(reviews=(("p1", 100), ("p2", 40)), pace=EVEN)
    plan = planned(work, 60, 60, 60)
    assert [(d.review, d.review_minutes) for d in plan.days] == [
        ("p1", 60),
        ("p1 and p2", 60),
        ("p2", 20),
    ]


@pytest.mark.parametrize(
    ("questions", "breaks"), [(0, 0), (1, 0), (50, 0), (51, 10), (100, 10), (101, 20)]
)
def test_a_day_has_one_break_fewer_than_spells(questions: int, breaks: int) -> None:
    """Of fifty minutes each, a minute a question; a day without work has none."""
    own = replace(SETTINGS, break_after_minutes=50, break_minutes=10)
    work = Work(areas=(area("a", questions),), pace=EVEN)
    assert planned(work, 180, own=own).days[0].break_minutes == breaks
