"""Log answers: a block, one answer, a sheet, a table; list what was logged, or take it back."""

import click

from kb.cli.params import Files

WAYS = ("block", "one", "sheet", "table", "list", "undo", "scrub")


@click.group(name="log", cls=Files, prefix="log_", order=WAYS)
def command() -> None:
    """Log answers, and see which misses have no note yet."""
