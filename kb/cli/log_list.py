"""List what was logged."""

import click

from kb.cli.call import Call, with_call
from kb.cli.report_command import paged
from kb.core.wording import dated
from kb.presentation.paging import onward
from kb.presentation.report_model import Block, Column, Report, Table, Text
from kb.services.answer_logging import imports

LIMIT = 15
COLUMNS = (
    Column(key="batch", label="Batch"),
    Column(key="first_day", label="From", kind="date", quiet=True),
    Column(key="last_day", label="To", kind="date", quiet=True),
    Column(key="days", label="Day"),
    Column(key="sources", label="Sources"),
    Column(key="answer_count", label="Answers", kind="count"),
    Column(key="wrong_count", label="Missed", kind="count"),
)


@click.command(name="list")
@paged(LIMIT)
@with_call
def command(call: Call, limit: int, page: int) -> None:
    """List what was logged, each batch with the id that takes it back.

    The latest batch comes last, whatever the days of its answers.
    """
    found = imports(call.session)
    end = len(found) - (page - 1) * limit
    rows = tuple(
        (
            *(row.batch, row.first_day, row.last_day),
            " to ".join(dict.fromkeys((dated(row.first_day), dated(row.last_day)))),
            *(row.sources, row.answer_count, row.wrong_count),
        )
        for row in found[max(0, end - limit) : max(0, end)]
    )
    table = Table(key="batches", columns=COLUMNS, rows=rows, empty="Nothing was logged yet.")
    blocks: tuple[Block, ...] = (table,)
    if len(found) > 1:
        order = "In the order each device logged them (the time of logging is not kept)."
        blocks = (table, Text(text=order, quiet=True))
    if end > limit:
        earlier = f"Earlier: {onward('log list', limit, page, LIMIT)}"
        blocks = (*blocks, Text(text=earlier, quiet=True))
    right = f"{len(found)} in all"
    call.show(Report(name="list", title="Logged so far", right=right, blocks=blocks))
