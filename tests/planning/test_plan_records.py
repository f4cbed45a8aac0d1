"""Sums over the records of a plan, by hand."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

from kb.core.ids import AreaId, NoteId
from kb.planning.paper_days import PaperWork, Placed
from kb.planning.plan_records import AreaWork, DayPlan, Plan, Spent, Work
from kb.planning.reading_list import Candidate, DayList

A, B = AreaId("a"), AreaId("b")
MONDAY = date(2027, 3, 1)


def empty(day: date) -> DayPlan:
    """A day without work."""
    return DayPlan(day=day, shift="off", minutes=0)


def note(name: str, seconds: float) -> Candidate:
    """A note that takes so long to read."""
    return Candidate(
        note=NoteId(name),
        title=name,
        area=A,
        seconds=seconds,
        marks=1.0,
        failing=False,
        due=MONDAY,
    )


def test_an_empty_plan_holds_nothing() -> None:
    """Every count and every minute is nought, and no day has new questions."""
    day = empty(MONDAY)
    assert (day.question_count, day.note_count, day.note_minutes) == (0, 0, 0)
    assert (day.paper_minutes, day.used_minutes, day.break_minutes) == (0, 0, 0)
    assert (day.kept_free, day.after_night, day.review_minutes) == (False, False, 0)
    plan = Plan(days=(day,))
    assert (plan.new_count, plan.missed_count, plan.missed_left) == (0, 0, 0)
    assert (plan.behind, plan.new_end, plan.spare_minutes) == (False, None, 0)
    assert (Spent().minutes, Work().new_count, Work().mixed_count) == (0, 0, 0)
    assert AreaWork(area=A, count=1).worth == 0


def test_minutes_used_today_are_those_of_all_kinds() -> None:
    """By hand: 1 + 2 + 4 + 8 = 15."""
    assert Spent(notes=1, missed=2, other=4, paper=8).minutes == 15


def test_a_days_work_is_the_sum_of_its_parts() -> None:
    """By hand: 3 minutes of notes, 5 + 7 + 11 of questions, a paper of 180 and 13 of review are
    219; 2 + 4 new, 8 missed and 16 at random are 30 questions.
    """
    paper = PaperWork(name="p", title="P", items=100, parts=(1,), part_count=1, part_minutes=180)
    day = DayPlan(
        day=MONDAY,
        shift="off",
        minutes=240,
        notes=DayList(day=MONDAY, minutes=60, notes=(note("n", 60), note("m", 120))),
        missed_count=8,
        new=((A, 2), (B, 4)),
        mixed_count=16,
        paper=Placed(paper=paper, day=MONDAY, parts=(1,)),
        review_minutes=13,
        missed_minutes=5,
        new_minutes=7,
        mixed_minutes=11,
    )
    assert (day.note_count, day.note_minutes, day.paper_minutes) == (2, 3, 180)
    assert day.used_minutes == 219
    assert (day.new_count, day.question_count) == (6, 30)


def test_one_question_unmet_is_behind() -> None:
    """None is not, though an area is named."""
    assert Plan(days=(), unmet=((A, 1),)).behind
    assert not Plan(days=(), unmet=((A, 0),)).behind
    assert Plan(days=(), unmet=((A, 1), (B, 2))).unmet_count == 3


def test_new_questions_end_on_the_last_day_that_has_some() -> None:
    """Monday and Tuesday have one each, Wednesday none: Tuesday."""
    monday, tuesday, wednesday = (empty(date(2027, 3, n)) for n in (1, 2, 3))
    days = (replace(monday, new=((A, 1),)), replace(tuesday, new=((A, 1),)), wednesday)
    assert Plan(days=days).new_end == tuesday.day
    assert not Work().baseline
