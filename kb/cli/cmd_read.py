"""Record that a note was read."""

import click

from kb.cli.call import Call, with_call
from kb.cli.params import Number
from kb.services.answer_logging import log_reading


@click.command(name="read")
@click.argument("notes", nargs=-1, required=True, metavar="NOTE...")
@click.option("--took", type=Number(0, 1440), metavar="MINUTES", help="How long it took.")
@with_call
def command(call: Call, notes: tuple[str, ...], took: float | None) -> None:
    """Record that you read one or more notes.

    Name each NOTE by its title, path or id. With several, the time is shared out evenly.
    """
    session = call.session
    found = [session.note(handle) for handle in notes]
    each = None if took is None else 60 * took / len(found)
    readings = [log_reading(session, note, each) for note in found]
    rows = [{"id": r.id, "at": r.at, "note": r.note, "seconds": r.seconds} for r in readings]
    call.answer({"readings": rows}, *(f"Read: {note.title}" for note in found))
