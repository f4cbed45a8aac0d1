"""Options that choose notes for a file."""

from typing import Any

import click

from kb.cli.call import Call
from kb.cli.params import DAY, F, Number, OneOf, Whole
from kb.core.errors import QueryError, likely_slip
from kb.export.handout import Handout
from kb.services.selection import KINDS, Choice, Kind, file_stem, gather

STATES = ("failing", "untested", "holding")


def choosing(function: F) -> F:
    """Add the arguments and options that choose notes."""
    for option in (
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


def chosen_notes(call: Call, usual: Kind, asked: dict[str, Any]) -> tuple[Handout, str]:
    """The notes that were asked for, and a name for a file of them, without its suffix.

    Args:
        call: The call of the command.
        usual: The list when none is named; an area or a state alone means all its notes.
        asked: What `choosing` added.

    Raises:
        QueryError: There is no such list, or parts of the choice contradict each other.
        NotFoundError: The area, a note or the day does not exist, or no note is left.
    """
    narrowed = asked["area"] or asked["state"]
    kind = asked.pop("which") or ("all" if narrowed else usual)
    if kind not in KINDS:
        lists = ", ".join(KINDS)
        hint = f"for a note write: notes {kind}; for an area: --area {kind}"
        if meant := likely_slip(kind, KINDS):
            hint = f"did you mean {meant}?"
        raise QueryError(f"'{kind}' is none of the lists {lists}", hint=hint)
    choice = Choice(kind=kind, **asked)
    handout = gather(call.session, choice)
    call.say_problems()
    return handout, file_stem(choice, handout.day)
