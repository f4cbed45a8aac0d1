"""What a calendar file is written from: the plan as events."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from kb.core.ids import digest
from kb.core.wording import counted, listed, short_day
from kb.formats.side_logs import CalendarRow
from kb.planning.paper_days import key_of, pause_minutes
from kb.planning.plan_records import DayPlan, Plan
from kb.planning.workload import Situation

PAPER_START = time(9, 30)
"""When papers begin unless set: a usual hour (common practice, no source)."""
PARTS_PAUSE_MINUTES = 30
"""Between two parts sat on one day, where no break is set (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One event. With `start` it lasts `minutes` from that hour; without, it takes the day.

    `slot` says what it is for: a paper's part keeps its slot when it moves to another day.
    """

    day: date
    slot: str
    title: str
    detail: str = ""
    start: time | None = None
    minutes: int = 0

    @property
    def content(self) -> str:
        """A digest of all that the event says."""
        when = f"{self.day.isoformat()} {self.start or ''} {self.minutes}"
        return digest("event", when, self.title, self.detail)


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """An entry with what a calendar knows it by; a cancelled one is no longer planned."""

    entry: Entry
    row: CalendarRow


def calendar_entries(
    now: Situation, plan: Plan, names: Mapping[str, str], last: date | None = None
) -> tuple[Entry, ...]:
    """The plan as calendar events: the study of a day, papers and their review, and the exam.

    The parts of a paper follow each other and never begin in time that is kept free. `names` are
    those of areas and papers.
    """
    found: list[Entry] = []
    for day in plan.days:
        if last is not None and day.day > last:
            break
        found += [*_study_entries(day, names), *_paper_entries(now, day)]
    if last is None or now.exam_day <= last:
        found.append(Entry(day=now.exam_day, slot="exam", title="The exam"))
    return tuple(found)


def revised(
    entries: Iterable[Entry],
    known: Iterable[CalendarRow],
    now: datetime,
    today: date,
    last: date | None = None,
    *,
    base_mark: str,
) -> tuple[Event, ...]:
    """Entries with the UID and the revision that calendars know them by; then cancelled ones.

    A new slot gets a UID of its own, the same on every device. What changed since it was last
    written, or what two devices have written differently, goes a revision on. What was written for
    a day from `today` to `last`, and is no longer planned, is cancelled.

    Args:
        entries: The plan.
        known: What calendar files have held.
        now: The moment.
        today: The first day of the plan.
        last: Its last day, if it does not go on to the exam.
        base_mark: Differs from one base to another.
    """
    before: dict[str, CalendarRow] = {}
    for row in known:
        held = before.get(row.slot)
        if held is None or held.sequence < row.sequence:
            before[row.slot] = row
        elif held.sequence == row.sequence and held.content != row.content:
            before[row.slot] = replace(row, content="")
    found = []
    for entry in entries:
        row = _revision(entry, before.pop(entry.slot, None), now, base_mark)
        found.append(Event(entry=entry, row=row))
    for row in sorted(before.values(), key=lambda row: (row.day, row.slot)):
        if today <= row.day and (last is None or row.day <= last):
            gone = replace(row, at=now, sequence=row.sequence + 1, cancelled=True)
            entry = Entry(day=row.day, slot=row.slot, title=row.title)
            found.append(Event(entry=entry, row=row if row.cancelled else gone))
    return tuple(found)


def _revision(
    entry: Entry, before: CalendarRow | None, now: datetime, base_mark: str
) -> CalendarRow:
    if before and before.content == entry.content and not before.cancelled:
        return before
    return CalendarRow(
        at=now,
        uid=before.uid if before else f"{digest('calendar', base_mark, entry.slot)}@missbook",
        slot=entry.slot,
        day=entry.day,
        title=entry.title,
        content=entry.content,
        sequence=before.sequence + 1 if before else 0,
    )


def paper_dates(plan: Plan) -> dict[str, str]:
    """When each paper left is planned with its review, such as `Sat 12 Dec; review Sun 13 Dec`;
    then those that are not, and why.
    """
    dates: dict[str, list[str]] = {}
    for day in plan.days:
        if day.paper and day.paper.paper.window is None:
            whole = day.paper.parts == day.paper.paper.parts
            what = "" if whole else f"part {' and '.join(str(n) for n in day.paper.parts)} "
            dates.setdefault(day.paper.paper.name, []).append(f"{what}{_named(day.day)}")
    found: dict[str, str] = {}
    for name, days in dates.items():
        review = next((d.day for d in plan.days if name in d.review.split(" and ")), None)
        found[name] = ", ".join(days) + (f"; review {_named(review)}" if review else "")
    return found | {
        name: f"not planned: {why}" for name, why in plan.papers_out if name not in found
    }


def _named(day: date) -> str:
    return f"{day:%a} {short_day(day)}"


def _study_entries(day: DayPlan, names: Mapping[str, str]) -> list[Entry]:
    found = []
    if day.review:
        reviewed = listed([names.get(name, name) for name in day.review.split(" and ")])
        title = f"Review of {reviewed}, {day.review_minutes} min"
        found.append(Entry(day=day.day, slot=f"review {day.day.isoformat()}", title=title))
    parts = [counted(day.note_count, "note")] if day.note_count else []
    parts += [f"{day.missed_count} missed again"] if day.missed_count else []
    parts += [f"{day.new_count} new"] if day.new else []
    parts += [f"{day.mixed_count} mixed"] if day.mixed_count else []
    if parts:
        details = [f"{count} {names.get(area, area) or 'mixed areas'}" for area, count in day.new]
        details += [day.why] if day.until else []
        found.append(
            Entry(
                day=day.day,
                slot=f"study {day.day.isoformat()}",
                title=f"Study: {', '.join(parts)}",
                detail="; ".join(details),
            )
        )
    return found


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
                    slot=f"{key_of(paper)} part {part}",
                    title=title,
                    start=begins.time(),
                    minutes=paper.part_minutes,
                )
            )
        begins += timedelta(minutes=paper.part_minutes)
        begins += timedelta(minutes=pause_minutes(now.settings) or PARTS_PAUSE_MINUTES)
    return found
