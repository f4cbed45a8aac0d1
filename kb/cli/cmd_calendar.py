"""Write the plan as a calendar file."""

from __future__ import annotations

from datetime import timedelta

import click

from kb.cli.call import Call, with_call
from kb.cli.output_file import Target, writes
from kb.cli.params import Whole


@click.command(name="calendar")
@writes(".ics", default="plan.ics", argument=True)
@click.option(
    "--days", type=Whole(0), default=0, metavar="DAYS", help="How many days; 0 for all to the exam."
)
@with_call
def command(call: Call, target: Target, days: int) -> None:
    """Write the plan to a FILE that calendars can import.

    FILE is plan.ics if none is named; the format is iCalendar.

    Each day's questions are an all-day event; papers and the mock have their hours. Written again
    (with --replace) and imported again, it changes the events of its days instead of doubling them.
    """
    from kb.export.icalendar_file import write_calendar
    from kb.planning.calendar_entries import calendar_entries
    from kb.planning.workload import plan_of

    output = target.or_usual("plan.ics")
    session = call.session
    base, today = session.base, session.today
    now, plan = plan_of(base, today)
    names = {area.id: area.name for area in base.exam.areas}
    last = today + timedelta(days=days - 1) if days else None
    entries = calendar_entries(now, plan, names, last)
    raw = write_calendar(entries, name=base.exam.name, zone=base.study.timezone, now=session.now)
    output.write(raw)
    call.answer(
        {"file": str(output.file), "event_count": len(entries)},
        f"{len(entries)} events in {output.file}",
    )
