"""Writing notes at the terminal: the editor, what may already cover a miss, the walk."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from kb.cli.params import say, width
from kb.errors import KBError
from kb.render import Shown, render_text
from kb.reports._misses import covering_report
from kb.session import blank_note
from kb.stats.failing import open_misses

if TYPE_CHECKING:
    from kb.model import Hit, QuestionId
    from kb.session import Session

COVER_LIMIT = 5
TEMPLATE = """

# Lines that begin with '# ' are left out. {question}: {told}
# Two to eight lines: the fact, and the trap you fell into. Nothing that identifies a patient.
"""


def cover(session: Session, question: QuestionId) -> tuple[Hit, ...]:
    """Notes that may already cover a missed question, nearest first.

    They are looked for by the remarks of its misses and their concepts, in all areas.
    """
    said = [
        f"{attempt.remark} {attempt.concept}"
        for attempt in session.base.attempts
        if attempt.question == question and not attempt.right
    ]
    words = " ".join(" ".join(said).split())
    return session.similar(words, limit=COVER_LIMIT) if words else ()


def edited(session: Session, question: str, start: str = "") -> str:
    """What the person writes in their editor; empty if they leave without saving.

    Raises:
        KBError: No editor could be started.
    """
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
    say(f"{numbers}w writes a note; n nothing to learn; Enter leaves it for later; q stops")
    answer = click.prompt("", default="", show_default=False, prompt_suffix="> ").strip()
    if answer == "q":
        return False
    if answer.isdigit() and 1 <= int(answer) <= len(hits):
        note = session.note(hits[int(answer) - 1].note)
        session.link(note, question)
        say(f"{note.title} answers {question}.")
    elif answer == "n":
        session.set_aside(question, "nothing")
        say(f"{question} is set aside.")
    elif answer == "w":
        _write(session, question, basis)
    return True


def _write(session: Session, question: QuestionId, basis: str) -> None:
    title = click.prompt("Title", default="", show_default=False).strip()
    body = click.prompt(
        "The fact and its trap (empty opens your editor)", default="", show_default=False
    )
    body = body.strip() or edited(session, str(question))
    if not body:
        say("nothing was written")
        return
    row = next(r for r in open_misses(session.base, session.today) if r.question == question)
    area = row.area or click.prompt("Area").strip()
    given = basis or click.prompt("Basis: where did you check it?", default="", show_default=False)
    try:
        draft = blank_note(title or body.splitlines()[0][:60], area, (), (question,), given.strip())
        say(f"Written: {session.add_note(draft, body).path}")
    except KBError as error:
        say(str(error))
