"""Log answers: a block, one answer, a sheet, a table; list what was logged, or take it back."""

import click

from kb.cli.command_groups import LOGGING
from kb.cli.params import Named
from kb.core import plugins


class Ways(Named):
    """The ways of logging: each is a file `log_<name>.py` in this folder, imported on use."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the ways."""
        names = plugins.module_names("kb.cli", prefix="log_")
        return [*(name for name in LOGGING if name in names), *sorted(set(names) - set(LOGGING))]

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one way."""
        if cmd_name not in self.list_commands(ctx):
            return None
        way: click.Command = plugins.load("kb.cli", f"log_{cmd_name}", ("command",)).command
        return way


@click.group(name="log", cls=Ways)
def command() -> None:
    """Log answers, and see which misses have no note yet."""
