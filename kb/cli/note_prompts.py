"""Writing notes at the terminal: the editor, what may already cover a miss, the walk."""

from datetime import date

import click

from kb.cli.params import echo, edited, say, width
from kb.cli.patient_check import check_no_patient
from kb.core.errors import KBError, NotFoundError
from kb.core.ids import QuestionId, whole_number
from kb.core.model import Note
from kb.core.wording import visible
from kb.presentation.open_misses import covering_report
from kb.presentation.render import render_text
from kb.services.answer_logging import dismiss_miss, last_import
from kb.services.note_drafting import (
    area_of,
    cover,
    first_clause,
    keep_draft,
    kept_draft,
    suggestions,
)
from kb.services.note_editing import add_note, blank_note, link_note
from kb.services.session import Session
from kb.stats.note_state import OpenMiss, open_misses

DISMISSING = {"n": "nothing", "m": "misread"}
"""Keys of the walk that dismiss a miss, and the reason each gives."""
TEMPLATE = """

# Lines that begin with '# ' are left out. {question}: {remark}
# Two to eight lines: the fact, and the trap you fell into. Nothing that identifies a patient.
"""


def written(session: Session, question: str) -> str:
    """What the person wrote in their editor; empty if they left without saving.

    Raises:
        KBError: No editor could be started.
    """
    misses = [a for a in session.base.attempts if a.question == question and a.remark]
    remark = misses[-1].remark if misses else "no remark"
    text = edited(TEMPLATE.format(question=question, remark=remark))
    lines = (text or "").splitlines()
    return "\n".join(line for line in lines if not line.startswith("# ")).strip()


def next_miss(session: Session, *, area: str, source: str, since: date | None, basis: str) -> None:
    """Walk through misses without a note, of one area or source or since a day if these are given:
    link, write, dismiss, or leave for later. Those of the block logged last come first, then the
    costliest. Without a `basis`, where the facts were checked is asked for each.
    """
    batch = last_import(session)
    left: set[str] = set()

    def wanted(row: OpenMiss) -> bool:
        return (
            (not area or row.area == area)
            and (not source or row.attempt.source == source)
            and (since is None or row.attempt.day >= since)
            and row.question not in left
        )

    question, body = kept_draft(session)
    if body:
        _offer_draft(session, question, body, basis)
    while True:
        rows = [row for row in open_misses(session.base, session.today) if wanted(row)]
        if not rows:
            echo("Nothing is left to write up here.")
            return
        question = min(rows, key=lambda row: row.attempt.batch != batch or not batch).question
        if not _one(session, question, basis):
            return
        left.add(question)


def _offer_draft(session: Session, question: QuestionId, body: str, basis: str) -> None:
    """What was typed before it was broken off: written now, or kept."""
    echo(f"You began a note for {question}:\n{body}")
    if click.confirm("Go on with it?", default=True):
        _write(session, question, basis, body)
    elif click.confirm("Throw it away?", default=False):
        keep_draft(session)


def _one(session: Session, question: QuestionId, basis: str) -> bool:
    """Deal with one miss; False to stop."""
    hits = cover(session, question)
    while True:
        report = covering_report(session.base, session.today, question, hits, asked=True)
        echo(render_text(report, width=width()))
        numbers = f"1-{len(hits)} link it, " if hits else ""
        say(f"{numbers}w write a note (or type it here), m misread, n nothing to learn")
        say("(both dismiss it), /words look for a note, Enter later, q quit")
        answer = click.prompt("", default="", show_default=False, prompt_suffix="> ").strip()
        if (number := whole_number(answer)) and number <= len(hits):
            _link(session, session.note(hits[number - 1].note), question)
        elif answer in DISMISSING:
            dismiss_miss(session, question, DISMISSING[answer])
            say(f"{question} is dismissed; missbook undo reopens it.")
        elif answer == "w":
            _write(session, question, basis)
        elif answer.startswith("/"):
            hits = session.search(answer[1:], limit=5).hits
            continue
        elif " " in answer:
            _write(session, question, basis, answer)
        elif answer not in ("", "q"):
            say(f"'{answer}' is not one of the keys")
            continue
        return answer != "q"


def _link(session: Session, note: Note, question: QuestionId) -> None:
    link_note(session, note, question)
    say(f"{note.title} answers {question}.")


def _write(session: Session, question: QuestionId, basis: str, body: str = "") -> None:
    """Write a note by answering five questions; Enter accepts a suggestion.

    What was typed is kept as a draft until the note is written.
    """
    body = body or click.prompt(
        "The fact and its trap (empty opens your editor)", default="", show_default=False
    )
    body = body.strip() or written(session, question)
    if not body:
        say("nothing was written")
        return
    keep_draft(session, question, body)
    offered = suggestions(session, question, body)
    near = offered.nearby[0] if offered.nearby and offered.nearby[0].likely_same else None
    if near is not None:
        note = session.note(near.note)
        if click.confirm(
            f"'{visible(note.title)}' probably makes the same point. Link it instead?"
        ):
            _link(session, note, question)
            return
    title = click.prompt("Title", default=first_clause(body)).strip()
    area = _asked_area(session, area_of(session, question) or offered.area)
    concepts = click.prompt("Concepts", default=", ".join(offered.concepts) or "none")
    given = basis or click.prompt("Basis (where you checked it)", default="", show_default=False)
    listed = () if concepts.strip() == "none" else tuple(concepts.split(","))
    try:
        check_no_patient((body, title, concepts, given), False)
        named = tuple(concept.strip() for concept in listed if concept.strip())
        draft = blank_note(title, area, named, (question,), given.strip())
        say(f"Written: {add_note(session, draft, body).path}")
        keep_draft(session)
    except KBError as error:
        say(str(error))
        say("What you typed is kept: missbook note --next offers it.")


def _asked_area(session: Session, offered: str) -> str:
    """An area of the blueprint, asked for until it is one, so that nothing typed is lost."""
    while True:
        answer = click.prompt("Area", default=offered or None).strip()
        try:
            return session.exam.area(answer).id
        except NotFoundError as error:
            say(str(error))
