"""What today holds, and the notes to work on first."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date

from kb.core.model import Base
from kb.core.settings import Exam
from kb.core.wording import capital, counted
from kb.planning.pace import Pace
from kb.planning.paper_days import HELD_BACK
from kb.planning.plan_records import DayPlan
from kb.planning.workload import plan_of
from kb.presentation.report_model import Block, Facts, Kind, Report, Text, day_line
from kb.reports import queue as queue_report
from kb.reports.plan import areas_text

OPTIONS = ()
NOTE_COUNT = 3
"""How many notes head the day; `missbook queue` lists them all."""
COMMAND_AT = 48
"""Where the command stands on a line of at most 80 characters."""


def build(base: Base, today: date) -> Report:
    """The day's work in the order to do it, then the head of the list of notes to work on."""
    queue = queue_report.build(base, today, limit=NOTE_COUNT, area=None, state="")
    blocks = _day(base, today)
    if not base.attempts:
        blocks.append(Text(text="No answer in the log yet: missbook log"))
    for block in queue.blocks if base.attempts or base.notes else ():
        if isinstance(block, Text) and block.key == "total":
            blocks.append(replace(block, text=f"{block.text.rstrip('.')}: missbook queue"))
        elif not (isinstance(block, Text) and block.quiet):
            blocks.append(block)
    return Report(
        name="today",
        title="Today",
        right=day_line(today, base.exam.date),
        blocks=tuple(blocks),
        terms=queue.terms,
    )


def _day(base: Base, today: date) -> list[Block]:
    now, plan = plan_of(base, today)
    day = plan.days[0] if plan.days else None
    if day is None:
        return [Text(text="No study day is left before the exam.")]
    if not now.bank_count and not base.notes:
        text = "Nothing planned yet: name your question bank in study.yaml and log a first block."
        return [Text(text=text)]
    spent = round(now.work.spent.minutes)
    head = f"{capital(day.shift)}, {counted(day.minutes, 'minute')}"
    head += ", all used" if spent >= day.minutes > 0 else f", {spent} used" if spent else ""
    head += f" ({day.why})" if day.why else ""
    facts = _facts(day, now.work.pace, base.exam)
    blocks: list[Block] = [Text(text=f"{head}. Nothing is left to do today.")]
    if facts:
        blocks = [Facts(key="day", title=head, facts=tuple(facts))]
    counts: tuple[tuple[str, str, object, Kind], ...] = (
        ("shift", "Shift", day.shift, "text"),
        ("minutes", "Minutes", day.minutes, "minutes"),
        ("note_count", "Notes", day.note_count, "count"),
        ("missed_count", "Missed", day.missed_count, "count"),
        ("new_count", "New", day.new_count, "count"),
        ("mixed_count", "Mixed", day.mixed_count, "count"),
        ("used_minutes", "Used", round(day.used_minutes), "minutes"),
    )
    return [*blocks, Facts(key="counts", facts=counts, quiet=True)]


@dataclass(frozen=True, slots=True, kw_only=True)
class Evening:
    """What a day holds: its minutes, what is left to do in them, and what was done already.

    `why` says why the day has fewer minutes than usual, or none. `done` are short phrases.
    """

    shift: str
    minutes: int
    spent_minutes: int
    why: str
    steps: tuple[Step, ...]
    done: tuple[str, ...]


def evening(base: Base, today: date) -> Evening | None:
    """What today holds; None when no study day is left."""
    now, plan = plan_of(base, today)
    if not plan.days:
        return None
    day = plan.days[0]
    return Evening(
        shift=day.shift,
        minutes=day.minutes,
        spent_minutes=round(now.work.spent.minutes),
        why=day.why,
        steps=steps(day, base.exam),
        done=_done(base, today),
    )


def _done(base: Base, today: date) -> tuple[str, ...]:
    """What was done today, one phrase for each kind of work."""
    read = len({reading.note for reading in base.readings if reading.at.date() == today})
    missed, met, again, new = set[str](), set[str](), 0, 0
    for attempt in base.attempts:
        if attempt.day == today:
            again += attempt.question in missed
            new += attempt.question not in met
        met.add(attempt.question)
        if not attempt.right:
            missed.add(attempt.question)
    written = sum(note.written_on == today for note in base.notes)
    phrases = (
        (read, f"{counted(read, 'note')} read"),
        (again, f"{counted(again, 'missed question')} tried again"),
        (new, f"{counted(new, 'new question')} answered"),
        (written, f"{counted(written, 'note')} written"),
    )
    return tuple(phrase for count, phrase in phrases if count)


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One kind of work of a day, how long it takes, and the command that serves it.

    `count` is of notes or questions; `area` is the first that new questions are from.
    """

    kind: str
    minutes: int
    text: str
    command: str = ""
    count: int = 0
    area: str = ""


def steps(day: DayPlan, exam: Exam) -> tuple[Step, ...]:
    """The work of a day in the order to do it."""
    rows: list[tuple[str, float, str, str]] = []
    if day.paper:
        name = day.paper.paper.name
        command = (
            f"missbook sitting {name}" if name != HELD_BACK else "missbook draw 100 --held-back"
        )
        rows.append(("paper", day.paper_minutes, day.paper.text, command))
    if day.review:
        text = f"review of {day.review}"
        rows.append(("review", day.review_minutes, text, "missbook note --next"))
    if day.note_count:
        text = f"{counted(day.note_count, 'note')} due"
        rows.append(("notes", day.note_minutes, text, "missbook reread"))
    if day.missed_count:
        text = f"{counted(day.missed_count, 'missed question')} again"
        rows.append(("missed", day.missed_minutes, text, f"missbook retry {day.missed_count}"))
    if day.new:
        text = ": ".join(filter(None, (f"{day.new_count} new", areas_text(day, exam))))
        rows.append(("new", day.new_minutes, text, ""))
    if day.mixed_count:
        text = f"{day.mixed_count} at random"
        rows.append(("mixed", day.mixed_minutes, text, f"missbook draw {day.mixed_count}"))
    counts = {"notes": day.note_count, "missed": day.missed_count, "mixed": day.mixed_count}
    return tuple(
        Step(
            kind=kind,
            minutes=round(minutes),
            text=text,
            command=command,
            count=counts.get(kind, 0),
            area=day.new[0][0] if kind == "new" else "",
        )
        for kind, minutes, text, command in rows
    )


def _facts(day: DayPlan, pace: Pace, exam: Exam) -> list[tuple[str, str, object, Kind]]:
    """One line for each kind of work, its minutes first."""
    facts: list[tuple[str, str, object, Kind]] = []
    for step in steps(day, exam):
        shown = f"{step.text:<{COMMAND_AT}}{step.command}" if step.command else step.text
        facts.append((step.kind, f"{step.minutes:>3} min", shown, "text"))
        if step.kind == "new":
            text = review_text(day.new_count, pace)
            facts += [("new_review", "", text, "text")] if text else []
    if day.spare_minutes >= 5 and facts:
        facts.append(("spare", f"{round(day.spare_minutes):>3} min", "to spare", "text"))
    return facts


def review_text(new_count: int, pace: Pace) -> str:
    """What the review of new questions is expected to take; empty when that is next to nothing."""
    missed = new_count * pace.miss_fraction
    count, minutes = round(missed), round(missed * pace.review_seconds / 60)
    if not count or not minutes:
        return ""
    are = "is" if minutes == 1 else "are"
    whom = "one that" if count == 1 else f"{count} or so"
    return f"{minutes} of these minutes {are} for the {whom} you will miss"
