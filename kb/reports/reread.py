"""Which notes to read again on which of the coming days.

A note comes back 3, 10 and then every 30 days after it was written or one of its questions was
missed. In the last days before the exam every note comes once more, failing ones first. Record a
reading with missbook read NOTE.
"""

from datetime import date, timedelta

from kb.core.ids import AreaId
from kb.core.model import Base
from kb.core.wording import counted
from kb.planning.plan_records import DayPlan
from kb.planning.reading_list import Candidate
from kb.planning.workload import plan_of
from kb.presentation.report_model import Block, Entries, Entry, Option, Report, Text, fields_of
from kb.presentation.terms import at_risk, marks_by_row

OPTIONS = (
    Option("days", "int", default=7, least=1, unit="days", help="Days to show."),
    Option("area", "area", default=None, unit="area", help="Only this area."),
)
TERMS = (
    ("due", "3, 10 or 30 days have passed since the last look, or 3 since a miss"),
    ("last look", "the last days before the exam: failing notes first"),
)


def build(base: Base, today: date, *, days: int, area: AreaId | None) -> Report:
    """A list for each coming day, with its total."""
    now, plan = plan_of(base, today)
    shown = plan.days[:days]
    last_from = base.exam.date - timedelta(days=base.study.plan.last_look_days)
    blocks: list[Block] = [_day(one, area, last=one.day >= last_from) for one in shown]
    if not shown:
        blocks.append(Text("No day is left before the exam."))
    elif not base.notes:
        blocks = [Text("There is no note to reread yet.")]
    end = today + timedelta(days=days - 1)
    placed = {note.note for one in shown for note in _notes(one, None)}
    waiting = [n for n in now.work.notes if n.due <= end and n.note not in placed]
    waiting = [n for n in waiting if area in (None, n.area)]
    if waiting and shown:
        text = f"{counted(len(waiting), 'more note')} due by then, beyond the minutes for notes."
        blocks.append(Text(text))
    cites = ("cepeda2006", "nemhauser1969")
    return Report("Notes to reread", tuple(blocks), cites=cites, terms=TERMS)


def _notes(one: DayPlan, area: AreaId | None) -> tuple[Candidate, ...]:
    found = one.notes.notes if one.notes else ()
    return tuple(note for note in found if area in (None, note.area))


def _day(one: DayPlan, area: AreaId | None, *, last: bool) -> Entries:
    day, notes = one.day, _notes(one, area)
    minutes = sum(note.seconds for note in notes) / 60
    title = f"{day:%A} {day.day} {day:%b}"
    if notes:
        title += f", {counted(len(notes), 'note')}, {max(1, round(minutes))} min"
        title += at_risk(sum(note.marks for note in notes))
        title += ", last look" if last else ""
    empty = "Nothing is due."
    if one.kept_free:
        empty = f"Nothing ({one.why})."
    elif one.after_night:
        empty = "Nothing: the day after a night."
    elif not one.minutes:
        empty = "Nothing: no minutes on this day."
    worth = marks_by_row([note.marks for note in notes])
    entries = tuple(map(_entry, notes, worth))
    return Entries(f"day_{day:%Y_%m_%d}", entries, title=title, empty=empty, numbered=False)


def _entry(note: Candidate, worth: str) -> Entry:
    return Entry(
        head=note.title,
        right=("failing" if note.failing else "", note.area, worth),
        fields=(
            *fields_of(note, "note", "area"),
            ("seconds", round(note.seconds)),
            *fields_of(note, "marks", "failing"),
        ),
        note=note.note,
    )
