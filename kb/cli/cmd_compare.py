"""Write one note that compares two diagnoses you mix up."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from kb.cli.params import common, interactive, open_session, say
from kb.cli.patient_check import check_no_patient, no_patient_option
from kb.core.errors import QueryError, likely_slip
from kb.core.lookup import concept_names, spelt
from kb.presentation.render import to_json
from kb.services.comparison import begin, compare, write

if TYPE_CHECKING:
    from datetime import date

    from kb.services.session import Session


@click.command(name="compare")
@click.argument("one")
@click.argument("other")
@click.option("--text", metavar="TEXT", help="The note's text; without it your editor opens.")
@click.option("--area", default="", metavar="AREA", help="Its area. Default: as its questions.")
@click.option("--basis", default="", metavar="TEXT", help="Where you checked the facts.")
@click.option("--draft", is_flag=True, help="Only print what the note would begin with.")
@no_patient_option
@common
@click.pass_context
def command(
    ctx: click.Context,
    one: str,
    other: str,
    text: str | None,
    area: str,
    basis: str,
    draft: bool,
    no_patient: bool,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Write one note that compares ONE and OTHER.

    It begins with what your notes say of each.

    The note answers every question in which you took one for the other. When a note compares
    them already, it is named instead.
    """
    session = open_session(ctx, base_folder, as_of)
    found = compare(session, one, other)
    there, questions = found.note, found.questions
    if there is not None:
        if as_json:
            click.echo(to_json({"note": there.id, "path": there.path, "new": False}), nl=False)
        else:
            click.echo(f"Compared already in: {there.title} ({there.path})")
            click.echo(f"To rewrite it: missbook rewrite {there.id}")
        return
    for name, notes in ((found.one, found.first), (found.other, found.second)):
        if not (notes or found.both or found.mixup):
            _say_unknown(session, name)
    begun = begin(session, found)
    if draft:
        click.echo(to_json({"draft": begun}) if as_json else begun, nl=False)
        return
    body = text
    if body is None:
        if not interactive():
            hint = "give it with --text, or see how it would begin with --draft"
            raise QueryError("the note has no text, and nobody is here to write it", hint=hint)
        body = click.edit(begun, extension=".md")
    check_no_patient((body or "", basis, one, other), no_patient, begun)
    note = write(session, found, body or "", area, basis)
    if as_json:
        click.echo(to_json({"note": note.id, "path": note.path, "new": True}), nl=False)
    else:
        count = f"{len(questions)} question{'' if len(questions) == 1 else 's'}"
        answered = f"; it answers {count}" if questions else ""
        click.echo(f"Written: {note.path}{answered}")
    if not basis:
        say("It has no basis yet: add where you checked the facts, under 'basis:'.")


def _say_unknown(session: Session, name: str) -> None:
    """Point out a name that no note has: a misspelling, or a topic without a note so far."""
    meant = likely_slip(spelt(name), concept_names(session.base.notes))
    say(f"No note of yours speaks of {name}{f'; did you mean {meant}?' if meant else '.'}")
