"""What the plan asks for today, and the most urgent notes."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.planning.remedies import area_marks, plan_for
from kb.planning.workload import situation
from kb.presentation.report_model import Block, Facts, Option, Report, Text, day_line
from kb.reports import plan as plan_report
from kb.reports import queue as queue_report
from kb.stats.marks_at_risk import Risk

if TYPE_CHECKING:
    from datetime import date

    from kb.core.model import Base

OPTIONS = (
    Option(name="limit", kind="int", default=5, least=1, unit="n", help="How many notes to show."),
)


def build(base: Base, today: date, *, limit: int) -> Report:
    """The day's questions and reading, then the head of the queue."""
    risk = Risk(base, today)
    queue = queue_report.build(base, today, limit=limit, area=None, state="", risk=risk)
    blocks: list[Block] = [_day(base, today, risk)]
    if not base.attempts:
        blocks.append(Text(text="No answer in the log yet: missbook log"))
    for block in queue.blocks if base.attempts or base.notes else ():
        if not (isinstance(block, Text) and block.quiet):
            blocks.append(block)
    return Report(
        name="today",
        title="Today",
        right=day_line(today, base.exam.date),
        blocks=tuple(blocks),
        terms=queue.terms,
    )


def _day(base: Base, today: date, risk: Risk) -> Block:
    now = situation(base, today, area_marks(base, today, risk))
    day = next((day for day in plan_for(now).days if day.day == today), None)
    if day is None:
        return Text(text="No study day is planned for today.")
    names = {area.id: area.name for area in base.exam.areas}
    return Facts(
        key="day",
        facts=(
            ("work", "Questions", plan_report.work_text(day, names), "text"),
            ("reading_minutes", "Minutes of reading", day.reading_minutes, "minutes"),
            ("minutes", "Minutes in all", day.minutes, "minutes"),
            ("shift", "Shift", day.shift, "text"),
        ),
    )
