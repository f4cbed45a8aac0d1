"""Take back an answer or a whole batch."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from kb.cli.params import common, open_session
from kb.core.errors import NotFoundError
from kb.presentation.render import to_json
from kb.services.answer_logging import last_import, void

if TYPE_CHECKING:
    from datetime import date


@click.command(name="undo")
@click.argument("what", required=False)
@click.option("--last", is_flag=True, help="Take back this device's last batch.")
@click.option("--why", default="", metavar="TEXT", help="A remark for the log.")
@common
@click.pass_context
def command(
    ctx: click.Context,
    what: str | None,
    last: bool,
    why: str,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Take back an answer or a whole batch, or reopen a dismissed miss.

    WHAT is its id, which missbook log list shows; or the question whose miss was dismissed.

    Nothing is erased: a line is added that voids the earlier one.
    """
    session = open_session(ctx, base_folder, as_of)
    if last:
        what = last_import(session)
        if not what:
            hint = "missbook log list shows those of other devices"
            raise NotFoundError("this device has no batch to take back", hint=hint)
    if not what:
        raise NotFoundError("what is to be taken back?", hint="name an id, or use --last")
    count = void(session, what, why)
    if as_json:
        click.echo(to_json({"voided": what, "answer_count": count}), nl=False)
    else:
        no_longer = (
            "1 answer no longer counts" if count == 1 else f"{count} answers no longer count"
        )
        if ":" in what:
            no_longer = "its miss is open again, unless you have got it right since"
        click.echo(f"{what} is taken back: {no_longer}.")
