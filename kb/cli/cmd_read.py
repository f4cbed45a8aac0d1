"""Record that a note was read."""

from __future__ import annotations

import click

from kb.cli.call import Call, with_call
from kb.cli.params import Number
from kb.services.answer_logging import log_reading


@click.command(name="read")
@click.argument("notes", nargs=-1, required=True, metavar="NOTE...")
@click.option("--seconds", type=Number(0, 86400), help="How long it took.")
@click.option("--minutes", type=Number(0, 1440), help="The same in minutes.")
@with_call
def command(
    call: Call, notes: tuple[str, ...], seconds: float | None, minutes: float | None
) -> None:
    """Record that you read one or more notes.

    Name each NOTE by its id, its path, its title or the start of its id.

    With several notes, the time given is shared out evenly.
    """
    session = call.session
    found = [session.note(handle) for handle in notes]
    total = seconds if seconds is not None else None if minutes is None else 60 * minutes
    each = None if total is None else total / len(found)
    readings = [log_reading(session, note, each) for note in found]
    rows = [{"id": r.id, "at": r.at, "note": r.note, "seconds": r.seconds} for r in readings]
    call.answer({"readings": rows}, *(f"read: {note.title}" for note in found))
