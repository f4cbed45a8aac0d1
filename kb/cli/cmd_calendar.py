"""Write the plan as a calendar file."""

import click

from kb.cli.call import Call, with_call
from kb.cli.output_file import Target, writes
from kb.cli.params import Whole
from kb.core.wording import counted


@click.command(name="calendar")
@writes(".ics", default="plan.ics")
@click.option(
    "--days", type=Whole(1), metavar="DAYS", help="How many days. Default: all until the exam."
)
@with_call
def command(call: Call, target: Target, days: int | None) -> None:
    """Export the plan for your calendar app (.ics).

    Each day's study is an all-day event; papers have their hours. Importing a later file (written
    with --replace) changes the events of the days it holds, and cancels what is no longer planned.
    """
    from kb.services.calendar_export import export_calendar

    output = target.or_usual("plan.ics")
    events = export_calendar(call.session, output, days or 0)
    cancelled = sum(event.row.cancelled for event in events)
    planned = len(events) - cancelled
    text = f"Written: {output.file}, {counted(planned, 'event')}"
    text += f", {cancelled} cancelled" if cancelled else ""
    content = {"file": str(output.file), "event_count": planned, "cancelled_count": cancelled}
    call.answer(content, text)
