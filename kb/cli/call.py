"""One call of a command: the base it is about, and how its answer is printed."""

from __future__ import annotations

import os
from contextlib import suppress
from datetime import UTC, date, datetime
from functools import cached_property, wraps
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.cli.params import DAY, echo, say, width
from kb.core.errors import NoBaseError
from kb.presentation.render import Shown, render_json, render_text, to_json

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.presentation.report_model import Report
    from kb.services.session import Session


class Call:
    """One call of a command.

    Args:
        ctx: Click's own record of the call.
        base_folder: The base as the person named it, if they did.
        as_of: The day to look at, if one was given.
        as_json: Whether the answer is printed as JSON.
    """

    def __init__(
        self,
        ctx: click.Context,
        base_folder: str | None = None,
        as_of: date | None = None,
        as_json: bool = False,
    ) -> None:
        self.ctx, self.as_of, self.as_json = ctx, as_of, as_json
        given = base_folder or (ctx.find_root().obj or {}).get("base")
        self.base_folder: str | None = given or os.environ.get("MISSBOOK_BASE") or None

    @cached_property
    def root(self) -> Path:
        """The folder of the base.

        Raises:
            NoBaseError: There is none.
        """
        from kb.services.which_base import find_root

        return find_root(Path.cwd(), self.base_folder)

    @property
    def device(self) -> str:
        """The name of this device."""
        from kb.services.which_base import device_name

        return device_name(os.environ)

    @cached_property
    def session(self) -> Session:
        """The base, opened on first use; what is written from then on is kept as one act."""
        session = self.open()
        recorder = session.record_acts(datetime.now(UTC).astimezone())

        def stop() -> None:
            if recorder.stop() is not None:
                self._name_base()

        self.ctx.call_on_close(stop)
        return session

    def _name_base(self) -> None:
        """Say which base was changed, where it is not the one around the current folder."""
        from kb.services.which_base import find_root

        with suppress(NoBaseError):
            if find_root(Path.cwd(), None).resolve() == self.root.resolve():
                return
        say(f"In the base {self.root.resolve()}")

    def open(self) -> Session:
        """The base, opened without keeping what is written as an act."""
        from kb.cli.progress_bar import bar
        from kb.services.session import Session

        session = Session(self.root, now=datetime.now(UTC), device=self.device, as_of=self.as_of)
        session.watch = bar()
        return session

    def show(
        self, report: Report, day: date | None = None, *, explain: bool = False, cite: bool = False
    ) -> str:
        """Print a report, on the base unless made for a `day`; returns what was printed."""
        shown = Shown(width=width(), explain=explain, cite=cite)
        day = day or self.session.today
        text = render_json(report, day) if self.as_json else render_text(report, shown)
        echo(text, nl=False)
        return text

    def answer(self, content: dict[str, Any], *lines: str) -> None:
        """Print what was done: `content` as JSON, or these lines."""
        echo(to_json(content) if self.as_json else "".join(f"{x}\n" for x in lines), nl=False)

    def say_problems(self) -> None:
        """One line on standard error when the base has errors that leave something out."""
        errors = self.session.errors
        if errors:
            say(errors[0])
            if len(errors) > 1:
                say(f"... and {len(errors) - 1} more; list them with: missbook check")


def today() -> date:
    """The day on this device's clock, for commands that need no base."""
    return datetime.now(UTC).astimezone().date()


def _given_before(ctx: click.Context, _: click.Parameter, value: date | None) -> date | None:
    """The day given to the command, or the one given before it to `missbook` itself."""
    return value or (ctx.find_root().obj or {}).get("as_of")


as_of_option = click.option(
    "--as-of", type=DAY, metavar="DATE", callback=_given_before, help="As things stood on that day."
)
base_option = click.option("--base", "base_folder", metavar="FOLDER", help="The base to use.")
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


def with_call(function: Callable[..., None]) -> Callable[..., None]:
    """Add --base, --as-of and --json; `function` gets them as one `Call`, its first argument."""

    @base_option
    @as_of_option
    @json_option
    @click.pass_context
    @wraps(function)
    def run(
        ctx: click.Context,
        /,
        base_folder: str | None,
        as_of: date | None,
        as_json: bool,
        **given: Any,  # noqa: ANN401 - the command's own parameters
    ) -> None:
        function(Call(ctx, base_folder, as_of, as_json), **given)

    return run
