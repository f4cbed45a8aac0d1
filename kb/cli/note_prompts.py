"""Writing notes at the terminal: the editor, what may already cover a miss, the walk."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from kb.cli.params import can_edit, say, width
from kb.core.errors import KBError, NotFoundError
from kb.presentation.open_misses import covering_report
from kb.presentation.render import Shown, render_text
from kb.services.answer_logging import set_aside_miss
from kb.services.note_drafting import area_of, cover, first_clause, suggestions
from kb.services.note_editing import add_note, blank_note, link_note
from kb.stats.note_state import open_misses

if TYPE_CHECKING:
    from kb.core.ids import QuestionId
    from kb.core.search_result import Hit
    from kb.services.session import Session

ASIDE = {"n": "nothing", "m": "misread"}
"""Keys of the walk that set a miss aside, and the reason each gives."""
TEMPLATE = """

# Lines that begin with '# ' are left out. {question}: {told}
# Two to eight lines: the fact, and the trap you fell into. Nothing that identifies a patient.
"""


def edited(session: Session, question: str, start: str = "") -> str:
    """What the person wrote in their editor; empty if they left without saving.

    Raises:
        KBError: No editor could be started.
    """
    if not can_edit():
        hint = "give the note with --text, or set EDITOR"
        raise KBError("the note has no text, and nobody is here to write it", hint=hint)
    misses = [a for a in session.base.attempts if a.question == question and a.remark]
    told = misses[-1].remark if misses else "no remark"
    try:
        text = click.edit(start + TEMPLATE.format(question=question, told=told), extension=".md")
    except click.ClickException as error:
        hint = "set EDITOR, or give the note with --text"
        raise KBError(f"no editor: {error.message}", hint=hint) from error
    lines = (text or "").splitlines()
    return "\n".join(line for line in lines if not line.startswith("# ")).strip()


def next_miss(session: Session, basis: str) -> None:
    """Walk through open misses, costliest first: link, write, set aside, or leave for later."""
    left: set[str] = set()
    while True:
        rows = [row for row in open_misses(session.base, session.today) if row.question not in left]
        if not rows:
            click.echo("No open miss is left.")
            return
        question = rows[0].question
        hits = cover(session, question)
        report = covering_report(session.base, session.today, question, hits)
        click.echo(render_text(report, Shown(width=width())))
        if not _one(session, question, hits, basis):
            return
        left.add(question)


def _one(session: Session, question: QuestionId, hits: tuple[Hit, ...], basis: str) -> bool:
    """Deal with one miss; False to stop."""
    numbers = f"1-{len(hits)} links it; " if hits else ""
    say(f"{numbers}w writes a note; m misread, n nothing to learn: set aside for good;")
    say("Enter leaves it for later; q stops")
    answer = click.prompt("", default="", show_default=False, prompt_suffix="> ").strip()
    if answer == "q":
        return False
    if answer.isdigit() and 1 <= int(answer) <= len(hits):
        note = session.note(hits[int(answer) - 1].note)
        link_note(session, note, question)
        say(f"{note.title} answers {question}.")
    elif answer in ASIDE:
        set_aside_miss(session, question, ASIDE[answer])
        say(f"{question} is set aside.")
    elif answer == "w":
        _write(session, question, basis)
    return True


def _write(session: Session, question: QuestionId, basis: str) -> None:
    """Write a note by answering five questions; Enter accepts a suggestion."""
    body = click.prompt(
        "The fact and its trap (empty opens your editor)", default="", show_default=False
    )
    body = body.strip() or edited(session, str(question))
    if not body:
        say("nothing was written")
        return
    offered = suggestions(session, question, body)
    near = offered.nearby[0] if offered.nearby and offered.nearby[0].likely_same else None
    if near is not None:
        note = session.note(near.note)
        if click.confirm(f"'{note.title}' is likely on the same matter. Link it instead?"):
            link_note(session, note, question)
            say(f"{note.title} answers {question}.")
            return
    title = click.prompt("Title", default=first_clause(body)).strip()
    area = _asked_area(session, area_of(session, question) or offered.area)
    concepts = click.prompt("Concepts", default=", ".join(offered.concepts) or "none")
    given = basis or click.prompt("Basis: where did you check it?", default="", show_default=False)
    listed = () if concepts.strip() == "none" else tuple(concepts.split(","))
    try:
        named = tuple(concept.strip() for concept in listed if concept.strip())
        draft = blank_note(title, area, named, (question,), given.strip())
        say(f"Written: {add_note(session, draft, body).path}")
    except KBError as error:
        say(str(error))


def _asked_area(session: Session, offered: str) -> str:
    """An area of the blueprint, asked for until it is one, so that nothing typed is lost."""
    while True:
        answer = click.prompt("Area", default=offered or None).strip()
        try:
            return session.exam.area(answer).id
        except NotFoundError as error:
            say(str(error))
