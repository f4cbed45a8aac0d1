"""The plan and time kept free of study: it is never used, however short the plan is."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plan_bases import OFFICE, ROLLING, look, study
from rest_rotas import FIRSTS, LONDON, ROTAS, kept_hours, latest_study

from kb.charts._model import Words
from kb.core.duties import elapsed_hours
from kb.core.ids import AreaId
from kb.core.settings import PlanSettings, Rota
from kb.planning.calendar_entries import calendar_entries
from kb.planning.paper_days import PaperWork, Placed
from kb.planning.plan_records import AreaWork, Spent, Work
from kb.planning.what_if import what_if, with_minutes
from kb.planning.workload import Situation, plan_for
from kb.presentation.render import render_text
from kb.presentation.report_model import Table, Text
from kb.services.session import Session

SITUATIONS = st.builds(
    lambda rota, first, length, count, papers, limits, spent: Situation(
        today=first,
        exam_day=first + timedelta(days=length),
        zone="Europe/London",
        rota=rota,
        work=Work(
            areas=(AreaWork(area=AreaId("a"), count=count, worth=3.0),),
            mixed_count=count // 2,
            papers=tuple(
                PaperWork(
                    name=f"p{i}", title="P", items=200, parts=(1, 2), part_count=2, part_minutes=180
                )
                for i in range(papers)
            ),
            spent=Spent(other=spent),
        ),
        settings=limits,
        bank_count=count,
        kept_count=0,
    ),
    ROTAS,
    FIRSTS,
    st.integers(1, 40),
    st.integers(1, 3000),
    st.sampled_from([0, 1, 4]),
    st.builds(
        PlanSettings,
        paper_day_minutes=st.sampled_from([0, 360, 720]),
        break_after_minutes=st.sampled_from([0, 25, 90]),
    ),
    st.sampled_from([0, 0, 60, 500]),
)


def free_left(rota: Rota, day: date, minutes: int) -> float:
    """Minutes of a day outside all time kept free, if its study is done as late as can be."""
    if day.weekday() in rota.rest.free_weekdays:
        return 0.0
    start, end = latest_study(rota, day, minutes)
    inside = [to for since, to in kept_hours(rota, day) if since <= end and to > start]
    return 60 * elapsed_hours(max([start, *inside]), end) if inside else float(minutes)


@given(SITUATIONS)
@settings(max_examples=80, deadline=None)
def test_a_plan_never_uses_time_kept_free(now: Situation) -> None:
    """Whatever the rota and however much is left: no question, paper or reading lies in it."""
    plan = plan_for(now)
    for day in plan.days:
        clock = day.used_minutes + day.break_minutes
        assert day.used_minutes <= day.minutes + 1e-6
        assert clock <= max(0.0, free_left(now.rota, day.day, math.ceil(clock))) + 1e-6
    first = plan.days[0]
    assert first.used_minutes - first.paper_minutes <= max(0, first.minutes - now.work.spent.other)
    assert sum(day.new_count for day in plan.days) + plan.unmet_count == now.work.new_count


@given(SITUATIONS)
@settings(max_examples=80, deadline=None)
def test_no_event_of_the_calendar_begins_in_hours_kept_free(now: Situation) -> None:
    """A paper on the day on which they end begins after them."""
    for entry in calendar_entries(now, plan_for(now), {}, now.exam_day - timedelta(days=1)):
        if entry.start is None:
            continue
        begins = datetime.combine(entry.day, entry.start, LONDON)
        hours = kept_hours(now.rota, entry.day)
        assert not any(since <= begins < until for since, until in hours)


def test_a_paper_waits_until_rest_is_over(session: Callable[..., Session]) -> None:
    """58 hours after the second night end at 18:30 on a day off: its paper begins then."""
    rota = """\
rota:
  starts: 2027-01-04
  weeks: [[night, night, off, off, off, off, off]]
  rest: {free_after_nights: 2, free_hours_after_nights: 58}
"""
    now = look(session({"study.yaml": study(rota)}).base)
    plan = plan_for(now)
    friday = next(day for day in plan.days if day.day == date(2027, 4, 30))
    sat = PaperWork(
        name="p", title="P", items=100, parts=(1,), part_count=1, part_minutes=180, window=(9, 6)
    )
    moved = replace(friday, paper=Placed(paper=sat, day=friday.day, parts=(1,)))
    entries = calendar_entries(now, replace(plan, days=(moved,)), {})
    assert [str(e.start) for e in entries if e.start] == ["18:30:00"]
    later = replace(moved, until=None)
    entries = calendar_entries(now, replace(plan, days=(later,)), {})
    assert [str(e.start) for e in entries if e.start] == ["09:30:00"]


@given(SITUATIONS)
@settings(max_examples=80, deadline=None)
def test_free_days_of_a_week_hold_nothing(now: Situation) -> None:
    """In each whole week of a plan so many days are without study as were asked for."""
    days = {day.day: day for day in plan_for(now).days}
    for monday in (day for day in days if not day.weekday()):
        week = [days.get(monday + timedelta(days=i)) for i in range(7)]
        whole = [day for day in week if day is not None]
        if len(whole) == 7:
            idle = sum(not day.used_minutes for day in whole)
            assert idle >= now.rota.rest.free_days_a_week


@given(SITUATIONS)
@settings(max_examples=80, deadline=None)
def test_more_minutes_never_fill_a_free_day(now: Situation) -> None:
    """What helps a plan that is short is never taken from hours or days of the week kept free."""
    longer = replace(now, rota=with_minutes(now.rota, 30))
    for day in longer.days():
        assert day.minutes <= max(0.0, free_left(now.rota, day.day, day.minutes)) + 1e-6


def texts(opened: Session, **options: object) -> list[str]:
    """The sentences of a plan."""
    return [b.text for b in opened.report("plan", options).blocks if isinstance(b, Text)]


def works(opened: Session, days: int) -> dict[str, str]:
    """What stands on each day of a plan, by date."""
    report = opened.report("plan", {"days": days})
    table = next(b for b in report.blocks if isinstance(b, Table) and b.key == "days")
    return {str(row[0]): str(row[-2]) for row in table.rows}


def test_a_plan_says_why_a_day_is_free(session: Callable[..., Session]) -> None:
    """A free day shows its reason in place of work, and the reading list says the same."""
    rest = "  rest: {free_after_long_days: 3, free_after_nights: 3, free_days_a_week: 1}\n"
    rota = ROLLING.replace("  exceptions:", f"{rest}  exceptions:")
    opened = session(
        {"study.yaml": study(rota), "n.md": "---\ntitle: T\narea: cardiology\n---\nx\n"}
    )
    found = works(opened, 60)
    assert found["2027-02-15"] == "rest: day after three nights"
    assert found["2027-02-21"] == "rest: free day of the week"
    assert found["2027-03-01"] == "rest: day after three long days"
    assert "Nothing (rest: day after three nights)." in render_text(opened.report("reread"))


def test_a_plan_that_is_short_keeps_its_rest_and_says_what_does_not_fit(
    session: Callable[..., Session],
) -> None:
    """It never gives up a free day: it counts what is missing, and says how much rest holds."""
    base = study(OFFICE, items=9000, held_back=0)
    rest = "  rest: {free_weekdays: [sunday]}\n"
    plain = session({"study.yaml": base})
    before = plan_for(look(plain.base))
    assert not [text for text in texts(plain) if text.startswith("Rest ")]
    kept = session({"study.yaml": base + rest})
    after = plan_for(look(kept.base))
    assert after.unmet_count > before.unmet_count > 0
    sundays = [day for day in after.days if day.day.weekday() == 6]
    assert len(sundays) == 13
    assert all(day.minutes == 0 for day in sundays)
    told = next(text for text in texts(kept) if text.startswith("Rest "))
    assert told == (
        "Rest keeps 13 days free of study, 52 hours in all; it stays free, though the time is"
        " short."
    )


@pytest.mark.parametrize("rest", ["{free_weekdays: weekend}", "{free_days_a_week: 2}"])
def test_more_minutes_take_no_rest_away(session: Callable[..., Session], rest: str) -> None:
    """More minutes fall on study days alone."""
    text = study(OFFICE, items=9000, held_back=0) + f"  rest: {rest}\n"
    now = look(session({"study.yaml": text}).base)
    saturdays = [
        day
        for day in replace(now, rota=with_minutes(now.rota, 60)).days()
        if day.day.weekday() >= 5
    ]
    assert all(day.minutes == 0 for day in saturdays)


def test_the_chart_by_day_names_days_kept_free(session: Callable[..., Session]) -> None:
    """A free day is no day on which nothing was planned; by week the bar alone stands."""
    opened = session({"study.yaml": study(OFFICE) + "  rest: {free_weekdays: [sunday]}\n"})
    said = {
        by: [
            mark.text
            for panel in opened.chart("plan", {"by": by}).panels
            for mark in panel.elements
            if isinstance(mark, Words)
        ]
        for by in ("day", "week")
    }
    assert said["day"].count("kept free") == 2
    assert "kept free" not in said["week"]


def test_what_was_planned_without_is_said_beside(session: Callable[..., Session]) -> None:
    """A what-if that costs study says how the plan stood before."""
    opened = session({"study.yaml": study(OFFICE, items=9000, held_back=0)})
    said = texts(opened, what_if="free_days_a_week=1")
    assert said[1].startswith("Without it: ")
    assert said[2].startswith("Rest keeps 13 days free of study, 52 hours in all")


def test_breaks_have_a_column_of_their_own(session: Callable[..., Session]) -> None:
    """Breaks that were set are shown beside reading, and are no study."""
    text = study(OFFICE, items=9000)
    assert "Breaks" not in render_text(session({"study.yaml": text}).report("plan"))
    opened = session({"study.yaml": text + "plan: {break_after_minutes: 50, break_minutes: 10}\n"})
    assert "Breaks" in render_text(opened.report("plan"))
    plain = what_if(opened.base, "break_after_minutes=0")
    with_breaks, without = plan_for(look(opened.base)), plan_for(look(plain))
    assert with_breaks.unmet_count > without.unmet_count
