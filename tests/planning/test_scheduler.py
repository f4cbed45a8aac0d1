"""The model of the plan against brute force, its worked example, and its properties."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta
from itertools import permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.core.ids import AreaId
from kb.core.settings import PlanSettings
from kb.planning.scheduler import AreaWork, Plan, Work, order_areas, schedule, without_breaks
from kb.planning.study_days import StudyDay

START = date(2027, 1, 4)
PLAIN = PlanSettings(reading_fraction=0.0)


def days(*minutes: int) -> tuple[StudyDay, ...]:
    """Consecutive days with these study minutes."""
    return tuple(
        StudyDay(day=START + timedelta(days=i), shift="off", minutes=m, set_minutes=m)
        for i, m in enumerate(minutes)
    )


def areas(*rows: tuple[str, int, float]) -> tuple[AreaWork, ...]:
    """Areas with their count and marks."""
    return tuple(AreaWork(area=AreaId(a), count=n, marks=m) for a, n, m in rows)


def test_the_rule_of_thumb_takes_ninety_seven_days() -> None:
    """5,500 questions at 100 a day, again at 200 a day, then 14 days of papers: 55 + 28 + 14."""
    work = Work(areas=areas(("all", 5500, 1.0)), second_count=5500, paper_count=15, mock=True)
    plan = schedule(days(*[480] * 97), work, PLAIN)
    assert plan.fits
    assert sum(day.first_count > 0 for day in plan.days) == 55
    assert sum(day.second_count > 0 for day in plan.days) == 28
    assert plan.slack_days == 0
    assert plan.papers_from == START + timedelta(days=83)
    assert schedule(days(*[480] * 96), work, PLAIN).second_missing == 100


def test_three_hours_hold_a_hundred_questions_at_the_pace_of_the_exam() -> None:
    """100 questions in three hours are 108 s each (arithmetic), so 180 minutes hold exactly 100."""
    work = Work(areas=areas(("all", 500, 1.0)))
    plan = schedule(days(180, 180), work, PlanSettings(reading_fraction=0.0, paper_days=0))
    assert plan.days[0].question_count == 100


def test_areas_stand_by_marks_for_each_question_left() -> None:
    """The area that saves most marks for the work goes first; the doctor's own order before it."""
    rows = areas(("a", 100, 5.0), ("b", 10, 2.0), ("c", 50, 9.0), ("d", 0, 9.0))
    assert [a.area for a in order_areas(rows, ())] == ["b", "c", "a"]
    assert [a.area for a in order_areas(rows, (AreaId("a"),))] == ["a", "b", "c"]


@given(st.lists(st.tuples(st.integers(1, 9), st.integers(0, 9)), min_size=1, max_size=5))
def test_no_other_order_of_areas_covers_marks_earlier(rows: list[tuple[int, int]]) -> None:
    """Against every permutation: marks x questions until the area is done is smallest (Smith)."""
    given_areas = areas(*[(f"a{i}", n, float(m)) for i, (n, m) in enumerate(rows)])

    def waiting(order: tuple[AreaWork, ...]) -> float:
        done = 0
        total = 0.0
        for area in order:
            done += area.count
            total += area.marks * done
        return total

    best = min(waiting(order) for order in permutations(given_areas))
    assert abs(waiting(order_areas(given_areas, ())) - best) < 1e-9


def brute_rounds(room: tuple[int, ...], first: int, second: int, limits: tuple[int, int]) -> int:
    """Most questions weighed as the model weighs them: first round, second round, earliness."""
    best = (-1, -1, -1)
    options = [
        [(f, s) for f in range(min(r, limits[0]) + 1) for s in range(r - f + 1)] for r in room
    ]
    for choice in product(*options):
        done_first = sum(f for f, _ in choice)
        done_second = sum(s for _, s in choice)
        if done_first > first or done_second > second:
            continue
        left, fine = first, True
        for f, s in choice:
            left -= f
            share = int(limits[1] * (1 - f / limits[0]) + 1e-9)
            fine = fine and (not s or (left == 0 and s <= share))
        if fine:
            early = sum((f + s) * (len(room) - i) for i, (f, s) in enumerate(choice))
            best = max(best, (done_first, done_second, early))
    return best[0] * 10**6 + best[1] * 10**3 + best[2]


@given(
    st.lists(st.integers(0, 4), min_size=1, max_size=4),
    st.integers(0, 8),
    st.integers(0, 8),
    st.integers(1, 4),
    st.integers(1, 4),
)
@settings(max_examples=60, deadline=None)
def test_no_other_plan_does_more_questions_or_does_them_earlier(
    room: list[int], first: int, second: int, first_most: int, second_most: int
) -> None:
    """Against every plan there is on small cases: filling each day in turn is optimal."""
    work = Work(areas=areas(("a", first, 1.0)), second_count=second, seconds=60.0)
    limits = PlanSettings(
        first_per_day=first_most, second_per_day=second_most, reading_fraction=0.0
    )
    plan = schedule(days(*room, 0), work, limits)
    rounds = plan.days[: len(room)]
    early = sum(day.question_count * (len(room) - i) for i, day in enumerate(rounds))
    done_first = sum(day.first_count for day in rounds)
    done_second = sum(day.second_count for day in rounds)
    found = done_first * 10**6 + done_second * 10**3 + early
    assert found == brute_rounds(tuple(room), first, second, (first_most, second_most))


def brute_papers(minutes: tuple[int, ...], wanted: int) -> tuple[int, int]:
    """Mock and most papers over every day for the mock and every count of papers."""
    best = (0, 0)
    for mock_at in range(-1, len(minutes)):
        if mock_at >= 0 and minutes[mock_at] < 360:
            continue
        left = [m - 360 * (i == mock_at) for i, m in enumerate(minutes)]
        for counts in product(*[range(m // 180 + 1) for m in left]):
            if sum(counts) <= wanted:
                best = max(best, (int(mock_at >= 0), sum(counts)))
    return best


@given(st.lists(st.integers(0, 600), min_size=1, max_size=5), st.integers(0, 8))
def test_no_other_plan_holds_more_papers(minutes: list[int], wanted: int) -> None:
    """Against every way to place them: the mock first, then as many papers as can be."""
    work = Work(paper_count=wanted, mock=True)
    plan = schedule(days(*minutes, 600), work, PlanSettings(paper_days=len(minutes) + 1))
    found = (sum(day.mock for day in plan.days), sum(day.paper_count for day in plan.days))
    assert found == brute_papers(tuple(minutes), wanted)


BREAKS = PlanSettings(break_after_minutes=90, break_minutes=15)


@pytest.mark.parametrize(
    ("minutes", "studied"), [(0, 0), (90, 90), (100, 90), (105, 90), (120, 105), (240, 210)]
)
def test_breaks_come_after_each_spell_and_none_at_the_end(minutes: int, studied: int) -> None:
    """Ninety minutes, a quarter of an hour off, ninety minutes: 240 minutes hold 210 of study."""
    assert without_breaks(minutes, BREAKS) == studied
    assert without_breaks(minutes, PlanSettings()) == minutes


@given(st.integers(0, 12), st.integers(1, 4), st.integers(1, 3))
@settings(deadline=None)
def test_no_other_way_to_take_breaks_leaves_more_study(
    minutes: int, spell: int, pause: int
) -> None:
    """Against every way to spend each minute: none studies longer than a spell without a break."""
    most = 0
    for way in product((True, False), repeat=minutes):
        spent = "".join("s" if study else "-" for study in way)
        parts = spent.replace("-" * pause, " ").replace("-", "").split()
        if all(len(part) <= spell for part in parts):
            most = max(most, spent.count("s"))
    limits = PlanSettings(break_after_minutes=spell, break_minutes=pause)
    assert without_breaks(minutes, limits) == most


def test_a_paper_is_sat_through_and_followed_by_a_break() -> None:
    """Two papers of three hours need a quarter between them; the mock is one sitting.

    After them reading has its own breaks.
    """
    last = PlanSettings(paper_days=3, break_after_minutes=90, break_minutes=15)
    short = schedule(days(374, 360, 60), Work(paper_count=2), last)
    assert [day.paper_count for day in short.days] == [1, 1, 0]
    one = schedule(days(375, 60), Work(paper_count=2), last)
    assert (one.days[0].paper_count, one.days[0].break_minutes) == (2, 15)
    mock = schedule(days(360, 60), Work(mock=True), last)
    assert (mock.days[0].mock, mock.days[0].break_minutes) == (True, 0)
    after = schedule(days(495, 60), Work(mock=True), last).days[0]
    assert (after.reading_minutes, after.break_minutes) == (105, 30)


WORKS = st.builds(
    lambda first, second, papers, mock, seconds: Work(
        areas=areas(("a", first, 3.0), ("b", first // 2, 5.0)),
        second_count=second,
        paper_count=papers,
        mock=mock,
        seconds=seconds,
    ),
    st.integers(0, 400),
    st.integers(0, 400),
    st.integers(0, 6),
    st.booleans(),
    st.floats(30, 200),
)
MINUTES = st.lists(st.integers(0, 500), min_size=1, max_size=30)


def used_minutes(plan: Plan, work: Work) -> list[float]:
    """Minutes that each day's work and reading take."""
    return [
        day.question_count * work.seconds / 60
        + day.paper_count * work.paper_minutes
        + day.mock * work.mock_minutes
        + day.reading_minutes
        + day.break_minutes
        for day in plan.days
    ]


LIMITS = st.sampled_from(
    [PlanSettings(), BREAKS, PlanSettings(break_after_minutes=25, break_minutes=5)]
)


@given(MINUTES, WORKS, LIMITS)
def test_a_day_never_holds_more_than_its_minutes(
    minutes: list[int], work: Work, limits: PlanSettings
) -> None:
    """Work, reading and breaks fit in each day; a blocked day holds nothing; nothing is lost."""
    plan = schedule(days(*minutes), work, limits)
    for used, day in zip(used_minutes(plan, work), plan.days, strict=True):
        assert used <= day.minutes + 1e-6
    assert sum(d.first_count for d in plan.days) + plan.first_missing == work.first_count
    assert sum(d.second_count for d in plan.days) + plan.second_missing == work.second_count
    assert sum(d.paper_count for d in plan.days) + plan.papers_missing == work.paper_count


@given(MINUTES, WORKS, st.lists(st.integers(0, 200), min_size=30, max_size=30), LIMITS)
def test_more_minutes_never_finish_later(
    minutes: list[int], work: Work, more: list[int], limits: PlanSettings
) -> None:
    """With more minutes on any days, no less is placed and the rounds end no later."""
    before = schedule(days(*minutes), work, limits)
    longer = [m + x for m, x in zip(minutes, more, strict=False)]
    after = schedule(days(*longer), work, limits)
    assert after.first_missing <= before.first_missing
    assert after.first_missing + after.second_missing <= (
        before.first_missing + before.second_missing
    )
    assert after.papers_missing <= before.papers_missing or before.mock_missing
    if before.fits and before.questions_end and after.questions_end:
        assert after.questions_end <= before.questions_end


def test_no_reading_on_the_day_after_a_night() -> None:
    """A day after a night may hold a few questions, but no note."""
    first, second, eve = days(60, 60, 60)
    plan = schedule((replace(first, after_night=True), second, eve), Work(), PlanSettings())
    assert [day.reading_minutes for day in plan.days] == [0, 9, 60]


def test_the_eve_of_the_exam_holds_neither_questions_nor_papers() -> None:
    """The last day is for the last look."""
    work = Work(areas=areas(("a", 50, 1.0)), paper_count=3, mock=True)
    eve = schedule(days(*[600] * 4), work, PlanSettings()).days[-1]
    assert (eve.question_count, eve.paper_count, eve.mock) == (0, 0, False)


def test_a_day_off_among_the_papers_holds_the_mock() -> None:
    """In the last days a day off may hold six hours: the mock, though it had four before."""
    rest = [replace(day, free=True) for day in days(240, 240, 240)]
    plan = schedule(rest, Work(mock=True), PlanSettings(paper_days=2))
    assert [(day.mock, day.minutes) for day in plan.days] == [
        (False, 240),
        (True, 360),
        (False, 360),
    ]


def test_a_day_off_among_the_papers_is_no_longer_than_rest_leaves() -> None:
    """What is used already is gone, and hours kept free of study stay free."""
    off = replace(days(240)[0], free=True)
    spent = replace(off, minutes=40, spent_minutes=200)
    cut = replace(off, minutes=240, room_minutes=300)
    plan = schedule([spent, cut, *days(0)], Work(paper_count=1), PlanSettings(paper_days=3))
    assert [day.minutes for day in plan.days] == [160, 300, 0]


def test_a_kind_of_day_off_may_hold_less_among_the_papers() -> None:
    """A day at home with children is no day for the mock, though it is off duty."""
    home = replace(days(100)[0], free=True, paper_day_minutes=100)
    short = replace(home, paper_day_minutes=0)
    plan = schedule([home, short, *days(0)], Work(mock=True), PlanSettings(paper_days=3))
    assert [day.minutes for day in plan.days] == [100, 100, 0]
    assert plan.mock_missing


def test_breaks_between_the_papers_of_a_day_off_come_on_top() -> None:
    """Six hours for papers hold two of three hours, with or without breaks."""
    rest = [replace(days(240)[0], free=True), *days(0)]
    plan = schedule(rest, Work(paper_count=2), replace(BREAKS, paper_days=2))
    assert (plan.days[0].minutes, plan.days[0].paper_count) == (375, 2)


def test_no_day_left() -> None:
    """On the day of the exam the plan is empty and everything is missing."""
    plan = schedule((), Work(areas=areas(("a", 5, 1.0)), paper_count=1), PlanSettings())
    assert (plan.days, plan.first_missing, plan.papers_missing) == ((), 5, 1)
