"""Write one note that compares two diagnoses you mix up."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from kb.cli.params import common, interactive, open_session, say
from kb.errors import KBError, QueryError
from kb.mixups import Mixup, comparing_note, rank_mixups
from kb.naming import Naming
from kb.render import to_json
from kb.session import blank_note

if TYPE_CHECKING:
    from datetime import date

    from kb.session import Session

MOMENT = "after questions"


@click.command(name="compare")
@click.argument("one")
@click.argument("other")
@click.option("--text", metavar="TEXT", help="The note's text; without it your editor opens.")
@click.option("--area", default="", metavar="AREA", help="Its area; else that of its questions.")
@click.option("--basis", default="", metavar="TEXT", help="Where you checked the facts.")
@click.option("--draft", is_flag=True, help="Only print what the note would begin with.")
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
    naming = Naming(session.base.notes, session.base.glossary)
    mixup = _mixup(session, naming, one, other)
    questions = mixup.questions if mixup else ()
    there = comparing_note(naming, (one, other), questions)
    if there is not None:
        if as_json:
            click.echo(to_json({"note": there.id, "path": there.path, "new": False}), nl=False)
        else:
            click.echo(f"Compared already in: {there.title} ({there.path})")
            click.echo(f"To write it anew: missbook rewrite {there.id}")
        return
    begun = begin(session, naming, one, other)
    if draft:
        click.echo(to_json({"draft": begun}) if as_json else begun, nl=False)
        return
    body = text
    if body is None:
        if not interactive():
            hint = "give it with --text, or see how it would begin with --draft"
            raise QueryError("the note has no text, and nobody is here to write it", hint=hint)
        body = click.edit(begun, extension=".md")
    if not body or body.strip() == begun.strip():
        raise KBError("nothing was written, so there is no note")
    areas = [a.area for a in session.base.attempts if a.question in questions and a.area]
    place = area or (max(areas, key=areas.count) if areas else "")
    if not place:
        raise QueryError("the area of this note is not known", hint="name it with --area")
    note = session.add_note(
        blank_note(f"{one} or {other}?", place, (one, other), questions, basis), body
    )
    if as_json:
        click.echo(to_json({"note": note.id, "path": note.path, "new": True}), nl=False)
    else:
        count = f"{len(questions)} question{'' if len(questions) == 1 else 's'}"
        answered = f"; it answers {count}" if questions else ""
        click.echo(f"Written: {note.path}{answered}")
    if not basis:
        say("It has no basis yet: add where you checked the facts, under 'basis:'.")


def _mixup(session: Session, naming: Naming, one: str, other: str) -> Mixup | None:
    wanted = {naming.key(one), naming.key(other)}
    rows = rank_mixups(session.base, {})
    return next((r for r in rows if {naming.key(r.one), naming.key(r.other)} == wanted), None)


def begin(session: Session, naming: Naming, one: str, other: str) -> str:
    """Both sides of the note, each filled with what existing notes say of it."""
    parts = []
    for name in (one, other):
        parts.append(f"## {name}\n")
        about = naming.about(name)
        if not about:
            about = tuple(session.note(hit.note) for hit in session.search(name, limit=2).hits)
        parts.extend(f"{session.body(note).strip()}\n" for note in about[:3])
        parts.append("\n")
    parts.append("What tells them apart in a stem: \n")
    return "".join(parts)
