"""What to do on which day until the exam, and whether it fits.

First round by area, second round mixed, papers last. Recomputed from the log and the rota every
time. --what-if tries other settings, such as "minutes=+30, papers=10, sample=0.5, exam=2027-06-01,
seconds=90, off=300, free_days_a_week=1"; nothing is changed by it.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from kb.core.wording import counted, dated, short_day
from kb.planning.remedies import (
    PAPER_START,
    area_marks,
    calendar_entries,
    hours_text,
    plan_for,
    remedies,
)
from kb.planning.rest_checks import rest_cautions
from kb.planning.what_if import what_if as changed_by
from kb.planning.what_if import with_reserve
from kb.planning.workload import situation
from kb.presentation.report_model import Block, Column, Facts, Option, Report, Table, Text, day_line

if TYPE_CHECKING:
    from datetime import date

    from kb.core.ids import AreaId
    from kb.core.model import Base
    from kb.core.settings import Exam
    from kb.planning.scheduler import DayPlan, Plan
    from kb.planning.workload import Situation

OPTIONS = (
    Option(name="days", kind="int", default=7, least=1, unit="days", help="How many days to show."),
    Option(name="what_if", kind="text", default="", help="Settings to try, such as minutes=+30."),
)
PHASE_COLUMNS = (
    Column(key="phase", label="Phase"),
    Column(key="from", label="From", kind="date"),
    Column(key="to", label="To", kind="date"),
    Column(key="count", label="Number", kind="count"),
    Column(key="days", label="Study days", kind="count"),
    Column(key="missing", label="Do not fit", kind="count"),
)
DAY_COLUMNS = (
    Column(key="weekday", label="Day"),
    Column(key="day", label="", kind="date"),
    Column(key="shift", label="Shift"),
    Column(key="minutes", label="Minutes", kind="count"),
    Column(key="reading_minutes", label="Reading", kind="count"),
    Column(key="work", label="Questions and papers"),
)
BREAK_COLUMN = Column(key="break_minutes", label="Breaks", kind="count")
REMEDY_COLUMNS = (
    Column(key="change", label="What would help"),
    Column(key="minutes_gained", label="Buys minutes", kind="count"),
    Column(key="enough", label="Enough"),
)
TERMS = (
    ("first round", "questions not met before, area by area"),
    ("second round", "questions of the whole bank, mixed (missbook draw picks them)"),
    ("reserve", "unseen questions kept back for an honest check late on"),
    ("study day", "a day with minutes for study after rest is kept"),
    ("rest", "time kept free of study by the settings under rota: rest:, whatever is missing"),
)


def build(base: Base, today: date, *, days: int, what_if: str) -> Report:
    """Phases, the coming days, the slack; remedies when it does not fit."""
    exam = base.exam
    marks = area_marks(base, today)
    now = situation(base, today, marks)
    tried, rest = with_reserve(base, what_if)
    changed = _what_if(situation(tried, today, marks) if tried is not base else now, rest)
    plan = plan_for(changed)
    blocks: list[Block] = []
    blocks.append(Text(text=_verdict(changed, plan)))
    if what_if.strip():
        without = _verdict(now, plan_for(now))
        without = without[:1].lower() + without[1:]
        blocks.append(Text(text=f"As planned without it: {without}"))
        blocks.extend(Text(text=text) for text in _beside_the_plan(now, changed, plan))
    blocks.extend(_rest(changed, plan))
    blocks.append(_basis(changed, plan))
    blocks.append(Table(key="phases", columns=PHASE_COLUMNS, rows=_phases(plan)))
    blocks.append(_coming(plan, exam, days, breaks=changed.settings.break_after_minutes > 0))
    found = remedies(changed)
    if found:
        rows = tuple((r.change, r.minutes_gained, "yes" if r.enough else "no") for r in found)
        blocks.append(Table(key="remedies", columns=REMEDY_COLUMNS, rows=rows))
    blocks.extend(_cautions(changed, days))
    return Report(
        name="plan",
        title="Plan" if not what_if.strip() else f"Plan if {what_if.strip()}",
        right=day_line(today, changed.exam_day),
        blocks=tuple(blocks),
        cites=("smith1956", "eu2003"),
        terms=TERMS,
    )


def _what_if(now: Situation, text: str) -> Situation:
    return changed_by(now, text) if text.strip() else now


def _verdict(now: Situation, plan: Plan) -> str:
    if not plan.days:
        return "No day is left before the exam."
    if not now.bank_count:
        return "No bank with a number of items is declared in study.yaml, so no round is planned."
    if not plan.fits:
        return f"It does not fit: {_missing(plan)}, {hours_text(plan.missing_minutes)}."
    if not plan.first_missing and plan.questions_end is None:
        return "Both rounds are done."
    days = counted(plan.slack_days, "study day")
    return f"It fits, with {days} to spare before the papers ({hours_text(plan.slack_minutes)})."


def _beside_the_plan(now: Situation, tried: Situation, plan: Plan) -> list[str]:
    """Settings tried that move no question: when the last look and the papers begin."""
    said = []
    before, days = now.settings.last_look_days, tried.settings.last_look_days
    if days != before:
        first = dated(tried.exam_day - timedelta(days=days), now.today.year)
        said.append(
            f"Last look at notes: {counted(days, 'day')} instead of {before}, from {first} on"
            " (missbook reading)."
        )
    was, starts = now.settings.paper_start, tried.settings.paper_start
    if starts and starts != (was or PAPER_START):
        text = f"Papers begin at {starts:%H:%M} instead of {was or PAPER_START:%H:%M}"
        sat = [entry for entry in calendar_entries(tried, plan, {}) if entry.start]
        if sat:
            last = max(sat, key=lambda entry: (entry.start or starts, entry.minutes))
            ends = datetime.combine(last.day, last.start or starts)
            ends += timedelta(minutes=last.minutes)
            text += f"; the latest ends at {ends:%H:%M}, on {short_day(ends)}"
        said.append(f"{text}.")
    return said


def _rest(now: Situation, plan: Plan) -> list[Text]:
    """How much of the time until the exam is kept free of study, if any was asked for."""
    kept = [day for day in now.days() if day.rest_minutes]
    if not kept:
        return []
    free = sum(not day.minutes for day in kept)
    parts = [f"keeps {counted(free, 'day')} free of study"] if free else []
    if len(kept) > free:
        parts.append(f"shortens {counted(len(kept) - free, 'day')}")
    hours = hours_text(sum(day.rest_minutes for day in kept))
    behind = "" if plan.fits else ", though the plan is short"
    text = f"Rest {' and '.join(parts)}, {hours} in all; nothing is planned there{behind}."
    return [Text(text=text)]


def _missing(plan: Plan) -> str:
    """What does not fit: `140 questions of the first round and the mock find no place`."""
    parts = []
    if plan.first_missing:
        parts.append(f"{counted(plan.first_missing, 'question')} of the first round")
    if plan.second_missing:
        second = plan.second_missing
        what = str(second) if parts else counted(second, "question")
        parts.append(f"{what} of the second{'' if parts else ' round'}")
    if plan.papers_missing:
        parts.append(counted(plan.papers_missing, "paper"))
    if plan.mock_missing:
        parts.append("the mock")
    alone = len(parts) == 1 and parts[0].startswith(("1 ", "the "))
    listed = ", ".join(parts[:-1]) + (" and " if parts[:-1] else "") + parts[-1]
    return f"{listed} {'finds' if alone else 'find'} no place"


def _basis(now: Situation, plan: Plan) -> Facts:
    pace = f"{now.work.seconds:.0f} s a question"
    if now.timed_count:
        pace += f", measured on {now.timed_count} answers"
    elif now.work.seconds == now.settings.seconds:
        pace += ", as set"
    else:
        pace += ", the exam's own until 20 answers are timed"
    minutes = sum(day.minutes - day.break_minutes for day in plan.days)
    return Facts(
        key="basis",
        facts=(
            ("pace", "Pace", pace, "text"),
            ("study_hours", "Study hours left", minutes / 60, "count"),
            ("kept_count", "Kept unseen", now.kept_count, "count"),
        ),
    )


def _phases(plan: Plan) -> tuple[tuple[object, ...], ...]:
    first = [day for day in plan.days if day.first_count]
    second = [day for day in plan.days if day.second_count]
    papers = [day for day in plan.days if day.paper_count]
    mock = [day for day in plan.days if day.mock]
    rows = (
        _phase("first round", first, sum(d.first_count for d in first), plan.first_missing),
        _phase("second round", second, sum(d.second_count for d in second), plan.second_missing),
        _phase("papers", papers, sum(d.paper_count for d in papers), plan.papers_missing),
        _phase("mock", mock, len(mock), int(plan.mock_missing)),
    )
    return tuple(row for row in rows if row[3] or row[5])


def _phase(name: str, days: list[DayPlan], count: int, missing: int) -> tuple[object, ...]:
    first, last = (days[0].day, days[-1].day) if days else (None, None)
    return (name, first, last, count, len(days), missing)


def _coming(plan: Plan, exam: Exam, count: int, *, breaks: bool) -> Table:
    names = {area.id: area.name for area in exam.areas}
    columns = (*DAY_COLUMNS[:-1], *((BREAK_COLUMN,) if breaks else ()), DAY_COLUMNS[-1])
    rows = tuple(
        (
            f"{day.day:%a}",
            day.day,
            day.shift,
            day.minutes,
            day.reading_minutes,
            *((day.break_minutes,) if breaks else ()),
            work_text(day, names),
        )
        for day in plan.days[: max(0, count)]
    )
    return Table(key="days", columns=columns, rows=rows, empty="No day is left before the exam.")


def work_text(day: DayPlan, names: dict[AreaId, str]) -> str:
    """What one day holds, in words."""
    parts = [f"{count} {names.get(area, area) or 'mixed areas'}" for area, count in day.first]
    if day.second_count:
        parts.append(f"{day.second_count} mixed")
    if day.paper_count:
        parts.append("1 paper" if day.paper_count == 1 else f"{day.paper_count} papers")
    if day.mock:
        parts.append("the mock")
    if not parts and day.kept_free:
        return day.why
    if not parts:
        parts.append("reading only" if day.reading_minutes else "none")
    if day.why:
        parts.append(f"({day.why})")
    return ", ".join(parts).replace(", (", " (")


def _cautions(now: Situation, days: int) -> list[Block]:
    said: list[Block] = []
    if now.assumed_rota:
        text = "There is no rota in study.yaml: office hours from Monday to Friday are assumed."
        said.append(Text(text=text, quiet=True))
    if now.unplanned:
        names = ", ".join(now.unplanned)
        text = f"Not planned, since study.yaml gives no number of items: {names}."
        said.append(Text(text=text, quiet=True))
    last = min(now.exam_day, now.today + timedelta(days=max(days, 28) - 1))
    found = rest_cautions(now.rota, ZoneInfo(now.zone), now.today, last)
    for caution in found[:5]:
        day = caution.day
        said.append(Text(text=f"Rest, {day:%a} {day.day} {day:%b}: {caution.text}."))
    if len(found) > 5:
        text = f"Rest: {len(found) - 5} more days in the coming weeks; missbook rota lists them."
        said.append(Text(text=text))
    return said
