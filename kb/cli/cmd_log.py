"""Log answers: a block, one question, an answer sheet, a table; take one back; list imports."""

from __future__ import annotations

import click

from kb.cli.params import Named
from kb.core import plugins


class Ways(Named):
    """The ways of logging: each is a file `log_<name>.py` in this folder, imported on use."""

    what = "way of logging"

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the ways."""
        return list(plugins.module_names("kb.cli", prefix="log_"))

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one way."""
        if cmd_name not in self.list_commands(ctx):
            return None
        way: click.Command = plugins.load("kb.cli", f"log_{cmd_name}", ("command",)).command
        return way


@click.group(name="log", cls=Ways)
def command() -> None:
    """Log answers, and see which misses they leave open."""
