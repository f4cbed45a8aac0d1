"""Write the plan as a calendar file."""

from __future__ import annotations

import click

from kb.cli.call import Call, with_call
from kb.cli.output_file import Target, writes
from kb.cli.params import Whole
from kb.core.wording import counted


@click.command(name="calendar")
@writes(".ics", default="plan.ics", argument=True)
@click.option(
    "--days", type=Whole(0), default=0, metavar="DAYS", help="How many days; 0 for all to the exam."
)
@with_call
def command(call: Call, target: Target, days: int) -> None:
    """Write the plan to a FILE that calendars can import.

    FILE is plan.ics if none is named; the format is iCalendar.

    Each day's study is an all-day event; papers have their hours. Importing a later file (written
    with --replace) changes the events of the days it holds, and cancels what is no longer planned.
    """
    from kb.services.calendar_export import export_calendar

    output = target.or_usual("plan.ics")
    events = export_calendar(call.session, output, days)
    cancelled = sum(event.row.cancelled for event in events)
    planned = len(events) - cancelled
    text = f"{counted(planned, 'event')} in {output.file}"
    text += f", and {counted(cancelled, 'event')} cancelled" if cancelled else ""
    content = {"file": str(output.file), "event_count": planned, "cancelled_count": cancelled}
    call.answer(content, text)
