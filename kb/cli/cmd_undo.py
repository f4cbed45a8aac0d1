"""Take back the last act of this device, whatever it was."""

import click

from kb.cli.call import Call, with_call
from kb.cli.report_command import paged
from kb.presentation.paging import page_of
from kb.presentation.report_model import Column, Report, Table
from kb.services.session import Session

COLUMNS = (Column("id", "Id"), Column("at", "When"), Column("what", "What was done"))


@click.command(name="undo")
@click.argument("act", required=False, default="")
@click.option("--list", "listed", is_flag=True, help="List what can be undone, the latest first.")
@paged(15)
@with_call
def command(call: Call, act: str, listed: bool, limit: int, page: int) -> None:
    """Take back the last thing done on this device.

    With ACT, an id that --list shows, take back that one. It may be answers, a note, a link, a
    dismissed miss, a reading, a draw or a setting. Undoing can be undone: a second missbook undo
    brings it back.
    """
    from kb.services.undoing import acts_done, moment

    session = call.open()
    if listed:
        rows = tuple(
            (own.id, moment(own), own.told) for own in page_of(acts_done(session), limit, page)
        )
        table = Table("acts", COLUMNS, rows, empty="Nothing was done here yet.")
        report = Report(name="undo", title="Done on this device", right="", blocks=(table,))
        call.show(report, session.today)
        return
    take_back(call, session, act)


def take_back(call: Call, session: Session, act: str) -> None:
    """Take back an act by its id, or the last one, and say what it was."""
    from kb.services.undoing import undo

    undone, made = undo(session, act)
    call.answer(
        {"act": undone.id, "undone_by": made.id, "what": made.told},
        f"{made.told.capitalize()}.",
        "To reverse that: missbook undo",
    )
