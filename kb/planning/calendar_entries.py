"""What a calendar file is written from: the plan as events."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING

from kb.core.wording import counted, short_day
from kb.planning.paper_days import pause_minutes

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from kb.core.ids import AreaId
    from kb.planning.plan_records import DayPlan, Plan
    from kb.planning.workload import Situation

PAPER_START = time(9, 30)
"""When papers begin unless set: a usual hour (common practice, no source)."""
PARTS_PAUSE_MINUTES = 30
"""Between two parts sat on one day, where no break is set (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One event. With `start` it lasts `minutes` from that hour; without, it takes the day."""

    day: date
    kind: str
    title: str
    detail: str = ""
    start: time | None = None
    minutes: int = 0


def calendar_entries(
    now: Situation, plan: Plan, names: Mapping[AreaId, str], last: date | None = None
) -> tuple[Entry, ...]:
    """The plan as calendar events: the study of a day, its papers by name, and the exam.

    The parts of a paper follow each other and never begin in time that is kept free.
    """
    found: list[Entry] = []
    for day in plan.days:
        if last is not None and day.day > last:
            break
        entry = _study_entry(day, names)
        found += [entry] if entry else []
        found += _paper_entries(now, day)
    if last is None or now.exam_day <= last:
        found.append(Entry(day=now.exam_day, kind="exam", title="The exam"))
    return tuple(found)


def paper_dates(plan: Plan) -> dict[str, str]:
    """When each paper left is planned with its review, such as `Sat 12 Dec; review Sun 13 Dec`, or
    why it is not.
    """
    dates: dict[str, list[str]] = {}
    for day in plan.days:
        if day.paper and day.paper.paper.window is None:
            whole = day.paper.parts == day.paper.paper.parts
            what = "" if whole else f"part {' and '.join(str(n) for n in day.paper.parts)} "
            dates.setdefault(day.paper.paper.name, []).append(f"{what}{_named(day.day)}")
    found = {name: f"no: {why}" for name, why in plan.papers_out}
    for name, days in dates.items():
        review = next((d.day for d in plan.days if name in d.review.split(" and ")), None)
        found[name] = ", ".join(days) + (f"; review {_named(review)}" if review else "")
    return found


def _named(day: date) -> str:
    return f"{day:%a} {short_day(day)}"


def _study_entry(day: DayPlan, names: Mapping[AreaId, str]) -> Entry | None:
    parts = [f"review of {day.review}, {day.review_minutes} min"] if day.review else []
    parts += [counted(day.note_count, "note")] if day.note_count else []
    parts += [f"{day.missed_count} missed again"] if day.missed_count else []
    parts += [f"{day.new_count} new"] if day.new else []
    parts += [f"{day.mixed_count} mixed"] if day.mixed_count else []
    if not parts:
        return None
    details = [f"{count} {names.get(area, area) or 'mixed areas'}" for area, count in day.new]
    details += [day.why] if day.until else []
    return Entry(
        day=day.day,
        kind="questions",
        title=f"Study: {', '.join(parts)}",
        detail="; ".join(details),
    )


def _paper_entries(now: Situation, day: DayPlan) -> list[Entry]:
    if day.paper is None:
        return []
    paper = day.paper.paper
    begins = datetime.combine(
        day.day, max(now.settings.paper_start or PAPER_START, day.until or time())
    )
    found = []
    for part in day.paper.parts:
        if begins.date() == day.day:
            title = paper.title if paper.part_count == 1 else f"{paper.title}, part {part}"
            found.append(
                Entry(
                    day=day.day,
                    kind=f"{paper.name} part {part}",
                    title=title,
                    start=begins.time(),
                    minutes=paper.part_minutes,
                )
            )
        begins += timedelta(minutes=paper.part_minutes)
        begins += timedelta(minutes=pause_minutes(now.settings) or PARTS_PAUSE_MINUTES)
    return found
