"""The command line: finds commands and reports by name, and alone turns errors into exit status 2.

A command is a file `cmd_<name>.py` with `command`; a report is a file in `kb/reports/`. Each has
its place in `command_groups`.
"""

from __future__ import annotations

import codecs
import io
import os
import sys
from typing import IO, Any

import click

from kb import __version__
from kb.cli.call import as_of_option, base_option
from kb.cli.command_groups import GROUPS
from kb.cli.params import Files, echo
from kb.core.errors import KBError, why
from kb.core.wording import CAUTION
from kb.services.report_registry import report_names

COMPLETION = "_MISSBOOK_COMPLETE"
"""Set by a shell that asks how to complete a word; click reads it."""


class OneLineError(click.ClickException):
    """A `KBError` on its way out: its own text, no prefix, so that editors jump to its place."""

    exit_code = 2

    def show(self, file: IO[Any] | None = None) -> None:
        """Print the message to standard error."""
        echo(self.message, err=True)


class Commands(Files):
    """All commands and reports, in the order of `command_groups`."""

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command, or make one from a report."""
        command = super().get_command(ctx, cmd_name)
        if command is None and cmd_name in report_names():
            from kb.cli.report_command import report_command

            return report_command(cmd_name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List commands under the headings of their groups."""
        for heading, group in GROUPS:
            found = [(name, self.get_command(ctx, name)) for name in group]
            with formatter.section(heading):
                formatter.write_dl(
                    [(name, one.get_short_help_str(limit=64)) for name, one in found if one]
                )

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - click's own signature
        """Run the command; a failed action ends in one line and exit status 2."""
        # The matrices are small: sharing them among threads takes three times as long as computing.
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
        try:
            return super().invoke(ctx)
        except KBError as error:
            raise OneLineError(str(error)) from error
        except click.exceptions.NoArgsIsHelpError:
            raise
        except click.UsageError as error:
            from kb.cli.usage_errors import message_of

            raise OneLineError(message_of(error)) from error
        except OSError as error:
            name = f"{error.filename}: " if error.filename else ""
            raise OneLineError(f"{name}{why(error)}") from error


def _escape(error: UnicodeError) -> tuple[str, int]:
    """A character that the terminal or file cannot encode, as its escape; valid in JSON too."""
    import json

    if not isinstance(error, UnicodeEncodeError):
        raise error
    return json.dumps(error.object[error.start : error.end])[1:-1], error.end


if os.environ.get(COMPLETION, "").startswith("powershell"):
    import kb.cli.powershell  # noqa: F401 - adds itself to the shells that click knows


codecs.register_error("missbook-escape", _escape)


@click.group(
    cls=Commands,
    prefix="cmd_",
    order=[name for _, group in GROUPS for name in group],
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
    epilog=CAUTION,
)
@base_option("The base. Default: MISSBOOK_BASE, or the nearest folder with an exam.yaml.")
@as_of_option
@click.version_option(__version__, prog_name="missbook")
def main() -> None:
    """Short revision notes linked to the exam questions that were missed."""
    for stream in (sys.stdout, sys.stderr):
        # Piped output on Windows has a narrow character set.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="missbook-escape")
