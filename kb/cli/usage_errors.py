"""Messages for mistakes on the command line: one line, and where the help is."""

import re

import click

from kb.core.errors import likely_slip

EXTRA = re.compile(r"got unexpected extra arguments? \((.*)\)", re.I | re.S)
ITEMS = re.compile(r"\d+(?:-\d+)?")


def message_of(error: click.UsageError) -> str:
    """The line for an error of click's, and the hint under it."""
    text = _message(error)
    return f"{text}\n  hint: see {error.ctx.command_path} --help" if error.ctx else text


def _message(error: click.UsageError) -> str:
    if isinstance(error, click.NoSuchOption):
        meant = " or ".join(_near(error.option_name, _options(error)))
        meant = f"; did you mean {meant}?" if meant else ""
        return f"there is no option {error.option_name}{meant}"
    text = " ".join(error.format_message().split()).rstrip(".")
    extra = EXTRA.fullmatch(text)
    if extra:
        params = error.ctx.command.params if error.ctx else []
        takes_words = any(isinstance(param, click.Argument) for param in params)
        instead = "put words that belong together in quotes"
        if all(ITEMS.fullmatch(word) for word in extra[1].split()):
            instead = "join items with commas, such as 43,50-52"
        elif "--area" in _options(error) and not takes_words:
            instead = f"for an area: --area {extra[1]}"
        return f"not expected: {extra[1]}; {instead}"
    if isinstance(error, click.MissingParameter) or not isinstance(error, click.BadParameter):
        return _small(text)
    return f"{_name(error.param)}: {_plain(error.message)}" if error.param else _small(text)


def _options(error: click.UsageError) -> list[str]:
    """The options that the command has."""
    if error.ctx is None:
        return []
    flags = (flag for param in error.ctx.command.params for flag in param.opts)
    return [flag for flag in flags if flag.startswith("--")]


def _near(typed: str, known: list[str]) -> list[str]:
    """Up to two options that begin with what was typed, or resemble it."""
    begun = [flag for flag in known if flag.startswith(typed)] if len(typed) > 2 else []
    if begun:
        return begun[:2]
    meant = likely_slip(typed.lstrip("-"), [flag.lstrip("-") for flag in known])
    return [f"--{meant}"] if meant else []


def _plain(text: str) -> str:
    """Click's message about a file, in the words used elsewhere."""
    text = re.sub(r"^(?:File|Path|Directory) ('.*') is a directory", r"\1 is a folder", text)
    text = re.sub(r"^(?:File|Path) ('.*') does not exist", r"there is no file \1", text)
    return _small(text)


def _name(param: click.Parameter) -> str:
    """`--minutes`, or `ITEMS` for an argument."""
    if isinstance(param, click.Option):
        return max(param.opts, key=len)
    return param.make_metavar(click.Context(click.Command(""))).strip("[].")


def _small(text: str) -> str:
    return (text[:1].lower() + text[1:]).rstrip(".")
