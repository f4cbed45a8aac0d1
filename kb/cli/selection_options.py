"""Options that choose notes for a file."""

from collections.abc import Callable
from functools import wraps
from typing import Any, cast

import click

from kb.cli.call import Call, with_call
from kb.cli.output_file import Target, writes
from kb.cli.params import DAY, F, Number, OneOf, Whole
from kb.core.errors import QueryError, likely_slip
from kb.services.selection import GOES_WITH, KINDS, Choice, Kind, file_stem, gather
from kb.stats.note_state import STATES


def _choosing(function: F) -> F:
    """Add the arguments and options that choose notes."""
    for option in (
        click.option("--state", type=OneOf([*STATES]), help="Only notes in this state."),
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


def hands_out(usual: Kind, *suffixes: str) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """Add what chooses notes and names the file; the command gets the notes as a `Handout`, and the
    `Output`. Where no list is named the `usual` one is meant, or all notes of an area or a state.
    """

    def add(function: Callable[..., None]) -> Callable[..., None]:
        @_choosing
        @writes(*suffixes, default="named after the list")
        @with_call
        @wraps(function)
        def run(call: Call, target: Target, **given: Any) -> None:  # noqa: ANN401 - options of both
            asked = {name: given.pop(name) for name in ("words", *GOES_WITH)}
            narrowed = asked["area"] or asked["state"]
            kind = _kind(given.pop("which") or ("all" if narrowed else usual))
            choice = Choice(kind=kind, **asked)
            handout = gather(call.session, choice)
            call.say_problems()
            output = target.or_usual(f"{file_stem(choice, handout.day)}{suffixes[0]}")
            function(call, handout, output, **given)

        return run

    return add


def _kind(word: str) -> Kind:
    if word in KINDS:
        return cast("Kind", word)
    hint = f"for a note write: notes {word}; for an area: --area {word}"
    if meant := likely_slip(word, KINDS):
        hint = f"did you mean {meant}?"
    raise QueryError(f"'{word}' is none of the lists {', '.join(KINDS)}", hint=hint)
