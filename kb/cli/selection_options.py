"""Options that choose notes for a file, and the line that says what was written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from kb.cli.params import DAY, Number, OneOf, Whole
from kb.core.errors import QueryError, likely_slip
from kb.services.selection import KINDS, Choice, Kind

if TYPE_CHECKING:
    from collections.abc import Callable

F = TypeVar("F", bound="Callable[..., Any]")

STATES = ("failing", "unproven", "holding")


def choosing(function: F) -> F:
    """Add the arguments and options that choose notes and name the file."""
    for option in (
        click.option(
            "--out",
            type=click.Path(path_type=Path, dir_okay=False),
            metavar="FILE",
            help="Default: named after the list.",
        ),
        click.option("--state", type=OneOf(STATES), help="Only notes in this state."),
        click.option("--limit", type=Whole(1), metavar="N", help="With queue: how many."),
        click.option(
            "--minutes", type=Number(0), metavar="MINUTES", help="With brief: time to read."
        ),
        click.option("--day", type=DAY, metavar="DATE", help="With reread: the list of that day."),
        click.option("--area", metavar="AREA", help="Only notes of this area."),
        click.argument("words", nargs=-1),
        click.argument("which", required=False, metavar="[LIST]"),
    ):
        function = option(function)
    return function


def choice_of(
    default: Kind,
    *,
    which: str | None,
    words: tuple[str, ...],
    **options: Any,  # noqa: ANN401 - the options as they came
) -> Choice:
    """The choice that was asked for. Without a list, an area or a state means all its notes."""
    narrowed = options.get("area") or options.get("state")
    kind = which or ("all" if narrowed else default)
    if kind not in KINDS:
        lists = ", ".join(KINDS)
        hint = f"for a note write: notes {kind}; for an area: --area {kind}"
        if meant := likely_slip(kind, KINDS):
            hint = f"did you mean {meant}?"
        raise QueryError(f"'{kind}' is none of the lists {lists}", hint=hint)
    return Choice(kind=kind, words=words, **options)  # type: ignore[arg-type]


def size(byte_count: int) -> str:
    """`840 bytes`, `212 KB`, `3.4 MB`."""
    if byte_count < 1000:
        return f"{byte_count} bytes"
    if byte_count < 999_500:
        return f"{byte_count / 1000:.0f} KB"
    return f"{byte_count / 1_000_000:.1f} MB"
