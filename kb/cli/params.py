"""What commands share: values typed by hand, messages, and what is known of the terminal."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import date
from typing import Any, TypeVar

import click

from kb.core import plugins
from kb.core.ids import whole_number
from kb.core.wording import CAUTION, visible

F = TypeVar("F", bound="Callable[..., Any]")
COMMAND_PROMISES = ("command",)


class Day(click.ParamType[date]):
    """A day written 2027-05-11."""

    name = "date"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> date:
        """Text -> day."""
        if isinstance(value, date):
            return value
        from kb.formats.dates import DAY, YEARS, parse_day

        text = str(value)
        try:
            return parse_day(text)
        except ValueError:
            far = DAY.fullmatch(text) and not YEARS[0] <= int(text[:4]) <= YEARS[1]
            within = f" from {YEARS[0]} to {YEARS[1]}" if far else ""
            self.fail(f"'{text}' is not a date{within}; write 2027-05-11", param, ctx)


DAY = Day()


class Number(click.ParamType[float]):
    """A number from `least` to `most`; a decimal comma is fine."""

    name = "number"
    read: Callable[[str], float] = float
    wanted = "a number; write it without its unit"

    def __init__(self, least: float | None = None, most: float | None = None) -> None:
        self.least, self.most = least, most

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        """Text -> number."""
        least, most = self.least, self.most
        try:
            number = type(self).read(str(value).replace(",", "."))
        except ValueError:
            self.fail(f"'{value}' is not {self.wanted}", param, ctx)
        if (least is not None and not number >= least) or (most is not None and not number <= most):
            span = f"from {least:g} to {most:g}" if most is not None else f"{least:g} or more"
            self.fail(f"must be {span}; you typed {number:g}", param, ctx)
        return number


class Whole(Number):
    """A whole number from `least` to `most`."""

    read = int
    wanted = "a whole number"


LEAVE_OUT = "\0"
"""Replaces the minus before a word to leave out, while click looks for options."""


class Wordy(click.Command):
    """A command that takes words: `-torsades` is a word to leave out, not an option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Replace the minus before such words."""
        return super().parse_args(ctx, _worded(args))


def _worded(args: list[str]) -> list[str]:
    return [re.sub(r"^-(?=[^\W\d]\w)", LEAVE_OUT, word) for word in args]


class Word(click.ParamType[str]):
    """A word to look for, with its minus."""

    name = "word"

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> str:
        """Text -> word."""
        return str(value).replace(LEAVE_OUT, "-")


class OneOf(click.Choice[str]):
    """One of a few words; for a misspelling the hint offers the nearest."""

    def get_metavar(self, param: click.Parameter, ctx: click.Context) -> str | None:
        """The words, without the empty one that stands for none."""
        return f"[{'|'.join(str(choice) for choice in self.choices if choice)}]"

    def get_invalid_choice_message(self, value: object, ctx: click.Context | None) -> str:
        """The message for any other word."""
        from kb.core.errors import nearest

        known = [str(choice) for choice in self.choices if choice]
        meant = nearest(str(value), known)
        meant = f": {meant}" if meant.startswith("did") else ""
        return f"'{value}' is not one of {', '.join(known)}{meant}"


class Named(click.Group):
    """A group of commands; for an unknown name the nearest is offered."""

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command that was named.

        Raises:
            NotFoundError: There is none.
        """
        name = args[0]
        if name.startswith("-"):
            return super().resolve_command(ctx, args)
        command = self.get_command(ctx, name)
        if command is None:
            from kb.core.errors import NotFoundError, nearest

            hint = nearest(name, self.list_commands(ctx)) or f"{ctx.command_path} --help lists them"
            raise NotFoundError(f"{ctx.command_path} has no command '{name}'", hint=hint)
        if not ctx.resilient_parsing:  # not while a shell completes a word
            _refuse_repeats(ctx, command, args[1:])
        return name, command, args[1:]


def _refuse_repeats(ctx: click.Context, command: click.Command, args: list[str]) -> None:
    """Refuse an option given twice that takes one value: the last would count unseen.

    Raises:
        UsageError: There is one.
    """
    own = click.Context(command, parent=ctx, info_name=command.name)
    given: list[click.Parameter] = []
    with suppress(click.UsageError):  # the command itself says what is wrong
        parser = command.make_parser(own)
        given = parser.parse_args(_worded(args))[2]
    single = [p for p in given if isinstance(p, click.Option) and not (p.is_flag or p.multiple)]
    if again := next((option for option in single if single.count(option) > 1), None):
        times = single.count(again)
        raise click.UsageError(f"{max(again.opts, key=len)} was given {times} times", own)


class Files(Named):
    """Commands that are files of this folder with a `command`: `cmd_draw.py` for a `prefix` of
    `cmd_`. They are listed in their `order`, and only the one that is called is imported.
    """

    def __init__(self, *args: Any, prefix: str, order: Sequence[str], **how: Any) -> None:  # noqa: ANN401
        super().__init__(*args, **how)
        self.prefix, self.order = prefix, order

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of the commands."""
        return list(self.order)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import one command."""
        if cmd_name in plugins.module_names(__package__, prefix=self.prefix):
            module = plugins.load(__package__, f"{self.prefix}{cmd_name}", COMMAND_PROMISES)
            command: click.Command = module.command
            return command
        return None


def say(text: str) -> None:
    """Print a message on standard error, so that standard output holds only the answer."""
    echo(text, err=True)


def echo(text: str, *, err: bool = False, nl: bool = True) -> None:
    """Print text; control characters that a note or log brought into it are shown, not obeyed."""
    click.echo(visible(text), err=err, nl=nl)


def say_caution() -> None:
    """Print the caution that every first run and page shows."""
    say(click.wrap_text(CAUTION, width()))


def interactive() -> bool:
    """Whether a person is at the terminal."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def edited(text: str) -> str | None:
    """What the person made of a text in their editor; None if they left without saving.

    Raises:
        KBError: Nobody is at the terminal and no editor is named, or it could not be started.
    """
    from kb.core.errors import KBError

    hint = "give it with --text, or set EDITOR"
    if not (interactive() or os.environ.get("VISUAL") or os.environ.get("EDITOR")):
        raise KBError("it has no text, and there is no terminal to write it at", hint=hint)
    try:
        return click.edit(text, extension=".md")
    except click.ClickException as error:
        raise KBError(f"no editor: {error.message}", hint=hint) from error


def width() -> int:
    """Columns to use: 80, or fewer on a narrow terminal."""
    if columns := whole_number(os.environ.get("COLUMNS", "")):
        return max(40, min(80, columns))
    try:
        return max(40, min(80, os.get_terminal_size().columns or 80))
    except OSError:
        return 80
