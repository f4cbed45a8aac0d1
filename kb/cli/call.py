"""One call of a command: the base it is about, and how its answer is printed."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.cli.params import DAY, F, echo, say, width
from kb.presentation.render import render_json, render_text, to_json

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.presentation.report_model import Report
    from kb.services.session import Session


class Call:
    """One call of a command, with what the options that commands share were given."""

    base_folder: str | None = None
    as_of: date | None = None
    as_json = explain = cite = False

    @property
    def ctx(self) -> click.Context:
        """Click's own record of the call."""
        return click.get_current_context()

    @cached_property
    def root(self) -> Path:
        """The folder of the base.

        Raises:
            NoBaseError: There is none.
        """
        from kb.services.which_base import find_root

        return find_root(Path.cwd(), self.base_folder or os.environ.get("MISSBOOK_BASE"))

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
        from kb.services.which_base import base_around

        around = base_around(Path.cwd())
        if around and around.resolve() == self.root.resolve():
            return
        say(f"In the base {self.root.resolve()}")

    def open(self) -> Session:
        """The base, opened without keeping what is written as an act."""
        from kb.cli.progress_bar import bar
        from kb.services.session import Session

        session = Session(self.root, now=datetime.now(UTC), device=self.device, as_of=self.as_of)
        session.watch = bar()
        return session

    def show(self, report: Report, day: date | None = None) -> str:
        """Print a report, on the base unless made for a `day`; returns what was printed."""
        if self.as_json:
            text = render_json(report, day or self.session.today)
        else:
            text = render_text(report, width=width(), explain=self.explain, cite=self.cite)
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


pass_call = click.make_pass_decorator(Call, ensure=True)


def _keep(ctx: click.Context, param: click.Parameter, value: object) -> None:
    """Keep what was given; a command's own option goes before the same one of `missbook`."""
    if value:
        setattr(ctx.ensure_object(Call), str(param.name), value)


def _shared(*names: str, **how: Any) -> Callable[[F], F]:  # noqa: ANN401 - as click takes them
    """An option that fills the attribute of its name in the `Call`."""
    return click.option(*names, expose_value=False, callback=_keep, **how)


def base_option(help: str = "The base to use.") -> Callable[[F], F]:
    """The option --base."""
    return _shared("--base", "base_folder", metavar="FOLDER", help=help)


as_of_option = _shared("--as-of", type=DAY, metavar="DATE", help="As things stood on that day.")
json_option = _shared("--json", "as_json", is_flag=True, help="Print JSON.")


def with_call(function: Callable[..., None]) -> Callable[..., None]:
    """Add --base, --as-of and --json; `function` gets the `Call` as its first argument."""
    return base_option()(as_of_option(json_option(pass_call(function))))


def explained(function: F) -> F:
    """Add --explain and --cite, for a command that shows a report."""
    cite = _shared("--cite", is_flag=True, help="Name the published works behind the figures.")
    return _shared("--explain", is_flag=True, help="Explain the terms used.")(cite(function))
