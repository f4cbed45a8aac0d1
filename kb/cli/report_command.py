"""A click command for any report or chart, made from its own options and docstring."""

from __future__ import annotations

import inspect
from typing import TYPE_CHECKING, Any

import click

from kb.cli.call import Call, explained, with_call
from kb.cli.params import DAY, Number, OneOf, Whole, Word, Wordy, echo, width
from kb.presentation import paging
from kb.services.report_registry import READING_TODAY, as_search, report_module

if TYPE_CHECKING:
    from collections.abc import Callable
    from types import ModuleType

    from kb.presentation.report_model import Option
    from kb.presentation.report_module import ReportModule

METAVARS = {"area": "AREA", "date": "DATE"}
"""What help calls a value, unless the option names its unit."""
NUMBERS = {"int": Whole, "float": Number}


def report_command(name: str) -> click.Command:
    """The command that shows one report."""
    module = report_module(name)

    @explained
    @with_call
    def run(call: Call, **given: Any) -> None:  # noqa: ANN401 - the report's own options
        session = call.session = call.open()  # a report is no act to be undone
        form = (call.as_json, width(), call.explain, call.cite)
        question = {"report": name, "form": form, **given}
        text = session.recall(question)
        if text is not None:
            echo(text, nl=False)
            return
        if name in READING_TODAY:
            from kb.services.reading_choices import record_choices

            record_choices(session)
        report = session.report(name, given)
        if not report.findings:
            call.say_problems()
        text = call.show(report)
        if any(problem.severity == "error" for problem in report.findings):
            call.ctx.exit(1)
        if not session.errors:
            session.keep(question, text)

    return command_of(name, module, run, Wordy if as_search(module) else click.Command)


def command_of(
    name: str,
    module: ReportModule | ModuleType,
    run: Callable[..., None],
    kind: type[click.Command] = click.Command,
) -> click.Command:
    """The command of that name with the options and the docstring of a report or chart."""
    for option in reversed(module.OPTIONS):
        run = _parameter(option)(run)
    return click.command(name=name, help=inspect.cleandoc(module.__doc__ or ""), cls=kind)(run)


def paged(limit: int) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Add --limit and --page, as every list has them."""

    def add(function: Callable[..., None]) -> Callable[..., None]:
        for option in reversed(paging.paged(limit)):
            function = _parameter(option)(function)
        return function

    return add


def _parameter(option: Option) -> Any:  # noqa: ANN401 - a click decorator
    """The click option, or argument, of one option of a report or chart."""
    flag = "--" + option.name.replace("_", "-")
    metavar = option.unit.upper() or METAVARS.get(option.kind)
    if option.kind == "words":
        metavar = metavar if option.required or not metavar else f"[{metavar}]"
        return click.argument(
            option.name, nargs=-1, type=Word(), required=option.required, metavar=metavar
        )
    if option.kind == "flag":
        return click.option(flag, option.name, is_flag=True, help=option.help)
    return click.option(
        flag,
        option.name,
        type=_type(option),
        default=option.default,
        show_default=bool(option.default),
        help=option.help,
        metavar=metavar,
    )


def _type(option: Option) -> click.ParamType[Any]:
    if option.choices:
        return OneOf(option.choices)
    if option.kind in NUMBERS:
        return NUMBERS[option.kind](option.least)
    return DAY if option.kind == "date" else click.STRING
