"""Blank a remark in the log for good."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from kb.cli.params import common, open_session
from kb.presentation.render import to_json
from kb.services.answer_logging import scrub

if TYPE_CHECKING:
    from datetime import date


@click.command(name="scrub")
@click.argument("own", metavar="ID")
@common
@click.pass_context
def command(
    ctx: click.Context, own: str, as_json: bool, as_of: date | None, base_folder: str | None
) -> None:
    """Blank the remark of the answer of that ID for good.

    For a remark that could identify a patient; missbook check finds those, and shows their ids. It
    is the one thing that rewrites the log, and it cannot be undone. Copies in backups, and on
    devices not synchronised yet, still have the remark.
    """
    session = open_session(ctx, base_folder, as_of)
    count = scrub(session, own)
    if as_json:
        click.echo(to_json({"scrubbed": own, "file_count": count}), nl=False)
        return
    files = "1 file" if count == 1 else f"{count} files"
    click.echo(f"The remark of {own} is blanked in {files}. The answer itself still counts.")
    click.echo("Backups, and devices not synchronised yet, still have it.")
