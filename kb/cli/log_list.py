"""List what was logged."""

import click

from kb.cli.call import Call, with_call
from kb.cli.report_command import paged
from kb.core.wording import dated
from kb.presentation.paging import onward
from kb.presentation.report_model import Block, Column, Report, Table, Text
from kb.stats.import_batches import batches_of

LIMIT = 15
COLUMNS = (
    Column("batch", "Batch"),
    Column("first_day", "From", "date", quiet=True),
    Column("last_day", "To", "date", quiet=True),
    Column("days", "Day"),
    Column("sources", "Sources"),
    Column("answer_count", "Answers", "count"),
    Column("wrong_count", "Missed", "count"),
)


@click.command(name="list")
@paged(LIMIT)
@with_call
def command(call: Call, limit: int, page: int) -> None:
    """List what was logged, each batch with the id that takes it back.

    The latest batch comes last, whatever the days of its answers.
    """
    found = batches_of(call.session.base.attempts, call.session.device)
    end = len(found) - (page - 1) * limit
    rows = tuple(
        (
            *(row.batch, row.first_day, row.last_day),
            " to ".join(dict.fromkeys((dated(row.first_day), dated(row.last_day)))),
            *(row.sources, row.answer_count, row.wrong_count),
        )
        for row in found[max(0, end - limit) : max(0, end)]
    )
    table = Table("batches", COLUMNS, rows, empty="Nothing was logged yet.")
    blocks: tuple[Block, ...] = (table,)
    if len(found) > 1:
        order = "In the order each device logged them (the time of logging is not kept)."
        blocks = (table, Text(order, quiet=True))
    if end > limit:
        earlier = f"Earlier: {onward('log list', limit, page, LIMIT)}"
        blocks = (*blocks, Text(earlier, quiet=True))
    right = f"{len(found)} in all"
    call.show(Report(name="list", title="Logged so far", right=right, blocks=blocks))
