"""Blank a remark in the log for good."""

import click

from kb.cli.call import Call, with_call
from kb.core.wording import counted
from kb.services.answer_logging import scrub


@click.command(name="scrub")
@click.argument("own", metavar="ID")
@with_call
def command(call: Call, own: str) -> None:
    """Blank the remark of one answer for good.

    For a remark that could identify a patient; missbook check finds those, and shows the ID. It is
    the only command that rewrites the log, and it cannot be undone. Copies in backups, and on
    devices not synchronised yet, still have the remark.
    """
    count = scrub(call.session, own)
    call.answer(
        {"scrubbed": own, "file_count": count},
        f"The remark of {own} is blanked in {counted(count, 'file')}."
        " The answer itself still counts.",
        "Backups, and devices not synchronised yet, still have it.",
    )
