"""Write the plan as a calendar file."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.cli.params import Whole, common, open_session

if TYPE_CHECKING:
    from datetime import date


@click.command(name="calendar")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), default="plan.ics")
@click.option(
    "--days", type=Whole(0), default=0, metavar="DAYS", help="How many days; 0 for all to the exam."
)
@common
@click.pass_context
def command(
    ctx: click.Context,
    file: Path,
    days: int,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Write the plan to a FILE that calendars can import.

    FILE is plan.ics if none is named; the format is iCalendar.

    Each day's questions are an all-day event; papers and the mock have their hours. Writing it
    again and taking it in again changes the events of the days it holds instead of doubling them.
    """
    from kb.export.icalendar_file import write_calendar
    from kb.planning.calendar_entries import calendar_entries
    from kb.planning.workload import plan_of
    from kb.presentation.render import to_json
    from kb.storage import atomic_files

    session = open_session(ctx, base_folder, as_of)
    base, today = session.base, session.today
    now, plan = plan_of(base, today)
    names = {area.id: area.name for area in base.exam.areas}
    last = today + timedelta(days=days - 1) if days else None
    entries = calendar_entries(now, plan, names, last)
    raw = write_calendar(entries, name=base.exam.name, zone=base.study.timezone, now=session.now)
    atomic_files.replace_file(file, raw, shown=str(file))
    if as_json:
        click.echo(to_json({"file": str(file), "event_count": len(entries)}), nl=False)
    else:
        click.echo(f"{len(entries)} events in {file}")
