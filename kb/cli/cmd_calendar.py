"""Write the plan as a calendar file."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path

import click

from kb.cli.call import Call, with_call
from kb.cli.params import Whole


@click.command(name="calendar")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), default="plan.ics")
@click.option(
    "--days", type=Whole(0), default=0, metavar="DAYS", help="How many days; 0 for all to the exam."
)
@with_call
def command(call: Call, file: Path, days: int) -> None:
    """Write the plan to a FILE that calendars can import.

    FILE is plan.ics if none is named; the format is iCalendar.

    Each day's questions are an all-day event; papers and the mock have their hours. Writing it
    again and taking it in again changes the events of the days it holds instead of doubling them.
    """
    from kb.export.icalendar_file import write_calendar
    from kb.planning.calendar_entries import calendar_entries
    from kb.planning.workload import plan_of
    from kb.services.user_files import write_file

    session = call.session
    base, today = session.base, session.today
    now, plan = plan_of(base, today)
    names = {area.id: area.name for area in base.exam.areas}
    last = today + timedelta(days=days - 1) if days else None
    entries = calendar_entries(now, plan, names, last)
    raw = write_calendar(entries, name=base.exam.name, zone=base.study.timezone, now=session.now)
    write_file(file, raw)
    call.answer(
        {"file": str(file), "event_count": len(entries)}, f"{len(entries)} events in {file}"
    )
