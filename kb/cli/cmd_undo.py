"""Take back the last act of this device, whatever it was."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from kb.cli.params import Whole, common, open_session, width
from kb.cli.report_command import show
from kb.presentation.render import Shown, to_json
from kb.presentation.report_model import Column, Report, Table

if TYPE_CHECKING:
    from datetime import date

MOMENT = "the base"
COLUMNS = (
    Column(key="id", label="Id"),
    Column(key="at", label="When"),
    Column(key="what", label="What was done"),
)


@click.command(name="undo")
@click.argument("act", required=False, default="")
@click.option("--list", "listed", is_flag=True, help="List what can be undone, the latest first.")
@click.option("--limit", type=Whole(1), default=15, show_default=True, help="How many to list.")
@common
@click.pass_context
def command(
    ctx: click.Context,
    act: str,
    listed: bool,
    limit: int,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Take back the last thing done on this device.

    Or the ACT of that id. It may be answers, a note, a link, a dismissed miss, a reading, a draw or
    a setting.
    Undoing is an act too: missbook undo once more brings it back.
    """
    from kb.storage import acts

    session = open_session(ctx, base_folder, as_of, recorded=False)
    if listed:
        done = acts.acts(session.root, session.device)[:limit]
        rows = tuple((own.id, own.at[:16].replace("T", " "), own.told) for own in done)
        table = Table(key="acts", columns=COLUMNS, rows=rows, empty="Nothing was done here yet.")
        report = Report(name="undo", title="Done on this device", right="", blocks=(table,))
        show(report, session.today, as_json=as_json, shown=Shown(width=width()))
        return
    wanted = acts.find(session.root, session.device, act)
    made = acts.undo(session.root, session.device, wanted, session.now)
    if as_json:
        content = {"act": wanted.id, "undone_by": made.id, "what": made.told}
        click.echo(to_json(content), nl=False)
        return
    click.echo(f"{made.told.capitalize()}.")
    click.echo("To reverse this: missbook undo")
