"""What today holds, and the notes to work on first."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, timedelta

from kb.core.base_views import split_after
from kb.core.model import Base
from kb.core.wording import capital, counted
from kb.planning.pace import Pace
from kb.planning.paper_days import HELD_BACK
from kb.planning.plan_records import DayPlan
from kb.planning.workload import plan_of
from kb.presentation.report_model import Block, Fact, Facts, Report, Text, paragraphs
from kb.reports import queue as queue_report
from kb.reports.plan import areas_text, reviewed

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
        blocks.append(Text("No answer in the log yet: missbook log"))
    for block in queue.blocks if base.attempts or base.notes else ():
        if isinstance(block, Text) and block.key == "total":
            blocks.append(replace(block, text=f"{block.text.rstrip('.')}: missbook queue"))
        elif not (isinstance(block, Text) and block.quiet):
            blocks.append(block)
    return Report("Today", tuple(blocks), terms=queue.terms)


def _day(base: Base, today: date) -> list[Block]:
    now, plan = plan_of(base, today)
    day = plan.days[0] if plan.days else None
    if day is None:
        return paragraphs("No study day is left before the exam.")
    if not now.bank_count and not base.notes:
        text = "Nothing planned yet: name your question bank in study.yaml and log a first block."
        return paragraphs(text)
    spent = round(now.work.spent.minutes)
    head = f"{capital(day.shift)}, {counted(day.minutes, 'minute')}"
    head += ", all used" if spent >= day.minutes > 0 else f", {spent} used" if spent else ""
    head += f" ({day.why})" if day.why else ""
    facts = _facts(day, now.work.pace, base)
    blocks: list[Block] = [Text(f"{head}. Nothing is left to do today.")]
    if facts:
        blocks = [Facts("day", tuple(facts), title=head)]
    counts: tuple[Fact, ...] = (
        ("shift", "Shift", day.shift, "text"),
        ("minutes", "Minutes", day.minutes, "minutes"),
        ("note_count", "Notes", day.note_count, "count"),
        ("missed_count", "Missed", day.missed_count, "count"),
        ("new_count", "New", day.new_count, "count"),
        ("mixed_count", "Mixed", day.mixed_count, "count"),
        ("used_minutes", "Used", round(day.used_minutes), "minutes"),
    )
    return [*blocks, Facts("counts", counts, quiet=True)]


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
        steps=tuple(steps(day, base)),
        done=_done(base, today),
    )


def _done(base: Base, today: date) -> tuple[str, ...]:
    """What was done today, one phrase for each kind of work."""
    read = len({reading.note for reading in base.readings if reading.at.date() == today})
    before, now = split_after(base.attempts, today - timedelta(1))
    missed, met = before.distinct("question", ~before.rights), before.distinct("question")
    again = new = 0
    for attempt in now:
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


@dataclass(frozen=True, slots=True)
class Step:
    """One kind of work of a day, how long it takes, and the command that serves it.

    `count` is of questions to draw; `area` is the first that new questions are from.
    """

    kind: str
    minutes: int
    text: str
    command: str = ""
    count: int = 0
    area: str = ""


def steps(day: DayPlan, base: Base) -> Iterator[Step]:
    """The work of a day in the order to do it."""
    notes, missed, mixed = day.note_count, day.missed_count, day.mixed_count
    if day.paper:
        name = day.paper.paper.name
        sit = "missbook draw 100 --held-back" if name == HELD_BACK else f"missbook sitting {name}"
        yield Step("paper", day.paper_minutes, day.paper.text, sit)
    if day.review:
        text = f"review of {reviewed(day, base.study)}"
        yield Step("review", day.review_minutes, text, "missbook note --next")
    if notes:
        text = f"{counted(notes, 'note')} due"
        yield Step("notes", round(day.note_minutes), text, "missbook reread")
    if missed:
        text = f"{counted(missed, 'missed question')} again"
        yield Step("missed", round(day.missed_minutes), text, f"missbook retry {missed}")
    if day.new:
        text = ": ".join(filter(None, (f"{day.new_count} new", areas_text(day, base.exam))))
        yield Step("new", round(day.new_minutes), text, area=day.new[0][0])
    if mixed:
        minutes, command = round(day.mixed_minutes), f"missbook draw {mixed}"
        yield Step("mixed", minutes, f"{mixed} at random", command, count=mixed)


def _facts(day: DayPlan, pace: Pace, base: Base) -> list[Fact]:
    """One line for each kind of work, its minutes first."""
    facts: list[Fact] = []
    for step in steps(day, base):
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
