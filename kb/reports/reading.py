"""What to read on which of the coming days.

Notes that are due for their next look.

The last days before the exam are for what still fails and what is worth most. Record a reading
with missbook read NOTE.
"""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from kb.planning.reading_list import ReadingDay, candidates, reading_list
from kb.planning.remedies import area_marks, plan_for
from kb.planning.workload import situation
from kb.presentation.report_model import Block, Entries, Entry, Option, Report, Text, day_line
from kb.stats.note_state import judge

if TYPE_CHECKING:
    from datetime import date

    from kb.core.ids import AreaId
    from kb.core.model import Base
    from kb.planning.reading_list import Candidate, DayList

OPTIONS = (
    Option(name="days", kind="int", default=7, least=1, unit="days", help="How many days ahead."),
    Option(name="area", kind="area", default=None, unit="area", help="Only this area."),
)


def build(base: Base, today: date, *, days: int, area: AreaId | None) -> Report:
    """A list for each coming day that has reading minutes."""
    marks = area_marks(base, today)
    now = situation(base, today, marks)
    plan = plan_for(now)
    nights = {day.day for day in now.days() if day.after_night}
    budget = [
        ReadingDay(day=d.day, minutes=d.reading_minutes, after_night=d.day in nights)
        for d in plan.days[: max(0, days)]
    ]
    judged = judge(base, today)
    notes = candidates(
        base,
        {row.note: row.marks for row in judged},
        [row.note for row in judged if row.state == "failing"],
    )
    if area:
        notes = tuple(note for note in notes if note.area == area)
    last_from = base.exam.date - timedelta(days=base.study.plan.last_look_days)
    lists = reading_list(notes, budget, last_from)
    blocks: list[Block] = []
    rest = {day.day: day.why for day in plan.days if day.kept_free}
    blocks += [_day(one, one.day in nights, rest.get(one.day, "")) for one in lists]
    if not lists:
        blocks.append(Text(text="No day is left before the exam."))
    waiting = _waiting(notes, lists, today + timedelta(days=max(0, days - 1)))
    if waiting:
        text = f"{waiting} more notes are due by then and find no place."
        blocks.append(Text(text=text if waiting > 1 else "1 more note is due and finds no place."))
    return Report(
        name="reading",
        title="Second look",
        right=day_line(today, base.exam.date),
        blocks=tuple(blocks),
        cites=("cepeda2008", "brysbaert2019"),
        terms=(
            ("due", "the gap that suits the time left to the exam has passed since the last look"),
            ("last look", "the last days before the exam: what still fails first"),
        ),
    )


def _day(one: DayList, after_night: bool, rest: str) -> Entries:
    day = one.day
    kind = ", last look" if one.last_look else ""
    title = f"{day:%A} {day.day} {day:%b}, {one.minutes} minutes for reading{kind}"
    empty = "Nothing: the day after a night." if after_night else "Nothing is due."
    if not one.minutes and not after_night:
        empty = "Nothing: no minutes on this day."
    if not one.minutes and rest:
        empty = f"Nothing ({rest})."
    return Entries(
        key=f"day_{day:%Y_%m_%d}",
        title=title,
        entries=tuple(_entry(note) for note in one.notes),
        empty=empty,
        numbered=False,
    )


def _entry(note: Candidate) -> Entry:
    return Entry(
        head=note.title,
        right=(*(("fails",) if note.failing else ()), note.area, f"{note.marks:.2f} marks"),
        fields=(
            ("note", note.note),
            ("area", note.area),
            ("seconds", round(note.seconds)),
            ("marks", note.marks),
            ("failing", note.failing),
        ),
        note=note.note,
    )


def _waiting(notes: tuple[Candidate, ...], lists: tuple[DayList, ...], last: date) -> int:
    placed = {note.note for one in lists for note in one.notes}
    return sum(note.due <= last and note.note not in placed for note in notes)
