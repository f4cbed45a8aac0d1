"""List what was logged."""

from __future__ import annotations

import click

from kb.cli.call import Call, with_call
from kb.cli.params import Whole
from kb.presentation.report_model import Block, Column, Report, Table, Text
from kb.services.answer_logging import imports

COLUMNS = (
    Column(key="batch", label="Batch"),
    Column(key="first_day", label="From", kind="date"),
    Column(key="last_day", label="To", kind="date"),
    Column(key="sources", label="Sources"),
    Column(key="answer_count", label="Answers", kind="count"),
    Column(key="wrong_count", label="Missed", kind="count"),
)


@click.command(name="list")
@click.option(
    "--limit", type=Whole(1), default=15, show_default=True, help="How many, the latest last."
)
@with_call
def command(call: Call, limit: int) -> None:
    """List what was logged, each batch with the id that takes it back.

    The last comes last, whatever the days of its answers.
    """
    found = imports(call.session)
    rows = tuple(
        (row.batch, row.first_day, row.last_day, row.sources, row.answer_count, row.wrong_count)
        for row in found[-limit:]
    )
    table = Table(key="batches", columns=COLUMNS, rows=rows, empty="Nothing was logged yet.")
    blocks: tuple[Block, ...] = (table,)
    if len(found) > 1:
        order = "In the order each device logged them (the time of logging is not kept)."
        blocks = (table, Text(text=order, quiet=True))
    right = f"{len(found)} in all"
    call.show(Report(name="list", title="Logged so far", right=right, blocks=blocks))
