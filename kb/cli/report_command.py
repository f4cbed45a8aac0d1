"""A click command for any report, made from the report's own options and docstring."""

from __future__ import annotations

import inspect
from typing import TYPE_CHECKING, Any

import click

from kb.cli.params import (
    DAY,
    Number,
    OneOf,
    Whole,
    Word,
    Wordy,
    common,
    open_session,
    say_problems,
    width,
)
from kb.presentation.render import Shown, render_json, render_text
from kb.services.report_registry import as_search, report_module

if TYPE_CHECKING:
    from datetime import date

    from kb.presentation.report_model import Option, Report

TYPES: dict[str, click.ParamType[Any]] = {
    "int": Whole(),
    "float": Number(),
    "text": click.STRING,
    "area": click.STRING,
    "date": DAY,
}


def report_command(name: str) -> click.Command:
    """The command that shows one report."""
    module = report_module(name)

    @common
    @click.option("--explain", is_flag=True, help="Explain the terms used.")
    @click.option("--cite", is_flag=True, help="Name the published works behind the figures.")
    @click.pass_context
    def run(
        ctx: click.Context,
        /,
        as_json: bool,
        as_of: date | None,
        base_folder: str | None,
        explain: bool,
        cite: bool,
        **given: Any,  # noqa: ANN401 - the report's own options
    ) -> None:
        from kb.storage.report_cache import keep, recall

        shown = Shown(width=width(), explain=explain, cite=cite)
        session = open_session(ctx, base_folder, as_of)
        question = {"report": name, "json": as_json, "shown": str(shown), **given}
        text = recall(session.catalogue, session.fingerprint, question)
        if text is not None:
            click.echo(text, nl=False)
            return
        report = session.report(name, given)
        if not report.findings:
            say_problems(session)
        text = show(report, session.today, as_json=as_json, shown=shown)
        if any(problem.severity == "error" for problem in report.findings):
            ctx.exit(1)
        if not session.errors:
            keep(session.catalogue, session.fingerprint, question, text)

    for option in reversed(module.OPTIONS):
        run = parameter(option)(run)
    help_text = inspect.cleandoc(module.__doc__ or "")
    kind = Wordy if as_search(module) else click.Command
    return click.command(name=name, help=help_text, cls=kind)(run)


def show(report: Report, as_of: date, *, as_json: bool, shown: Shown) -> str:
    """Print a report; returns what was printed."""
    text = render_json(report, as_of) if as_json else render_text(report, shown)
    click.echo(text, nl=False)
    return text


def parameter(option: Option) -> Any:  # noqa: ANN401 - a click decorator
    """The click option, or argument, of one option of a report or chart."""
    flag = "--" + option.name.replace("_", "-")
    if option.kind == "words":
        return click.argument(option.name, nargs=-1, type=Word(), required=option.required)
    if option.kind == "flag":
        return click.option(flag, option.name, is_flag=True, help=option.help)
    kind: click.ParamType[Any] = TYPES[option.kind]
    if option.choices:
        kind = OneOf(option.choices)
    shows_default = option.default not in (None, "")
    return click.option(
        flag,
        option.name,
        type=kind,
        default=option.default,
        show_default=shows_default,
        help=option.help,
        metavar=option.unit.upper() or None,
    )
