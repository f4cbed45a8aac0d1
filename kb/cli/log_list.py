"""List what was logged."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from kb.cli.params import Whole, common, open_session, width
from kb.cli.report_command import show
from kb.presentation.render import Shown
from kb.presentation.report_model import Block, Column, Report, Table, Text
from kb.services.answer_logging import imports

if TYPE_CHECKING:
    from datetime import date

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
@common
@click.pass_context
def command(
    ctx: click.Context, limit: int, as_json: bool, as_of: date | None, base_folder: str | None
) -> None:
    """List what was logged, each batch with the id that takes it back.

    The last comes last, whatever the days of its answers.
    """
    session = open_session(ctx, base_folder, as_of)
    found = imports(session)
    rows = tuple(
        (row.batch, row.first_day, row.last_day, row.sources, row.answer_count, row.wrong_count)
        for row in found[-limit:]
    )
    table = Table(key="batches", columns=COLUMNS, rows=rows, empty="Nothing was logged yet.")
    right = f"{len(found)} in all"
    blocks: tuple[Block, ...] = (table,)
    if len(found) > 1:
        note = "In the order each device logged them (the time of logging is not kept)."
        blocks = (table, Text(text=note, quiet=True))
    report = Report(name="list", title="Logged so far", right=right, blocks=blocks)
    show(report, session.today, as_json=as_json, shown=Shown(width=width()))
