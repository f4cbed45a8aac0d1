"""Record that a note was read."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from kb.cli.params import Number, common, open_session
from kb.services.answer_logging import log_reading

if TYPE_CHECKING:
    from datetime import date


@click.command(name="read")
@click.argument("notes", nargs=-1, required=True, metavar="NOTE...")
@click.option("--seconds", type=Number(0, 86400), help="How long it took.")
@click.option("--minutes", type=Number(0, 1440), help="The same in minutes.")
@common
@click.pass_context
def command(
    ctx: click.Context,
    notes: tuple[str, ...],
    seconds: float | None,
    minutes: float | None,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Record that you read one or more notes.

    Name each NOTE by its id, its path, its title or the start of its id.

    With several notes, the time given is shared out evenly.
    """
    from kb.presentation.render import to_json

    session = open_session(ctx, base_folder, as_of)
    found = [session.note(handle) for handle in notes]
    total = seconds if seconds is not None else None if minutes is None else 60 * minutes
    each = None if total is None else total / len(found)
    readings = [log_reading(session, note, each) for note in found]
    if as_json:
        rows = [{"id": r.id, "at": r.at, "note": r.note, "seconds": r.seconds} for r in readings]
        click.echo(to_json({"readings": rows}), nl=False)
        return
    for note in found:
        click.echo(f"read: {note.title}")
