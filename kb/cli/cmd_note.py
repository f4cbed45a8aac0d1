"""Answer misses with notes: list the open ones, link one to a note, or write a new note."""

from datetime import date

import click

from kb.cli.call import Call, with_call
from kb.cli.note_prompts import next_miss, written
from kb.cli.params import DAY, OneOf, interactive, say
from kb.cli.patient_check import check_no_patient, no_patient_option
from kb.cli.report_command import paged
from kb.core.errors import NotFoundError, QueryError
from kb.core.ids import REASONS, QuestionId
from kb.core.labels import label
from kb.core.model import Note
from kb.presentation.open_misses import covering_report, misses_report
from kb.services.answer_logging import dismiss_miss, question_reference
from kb.services.note_drafting import cover, draft, keep_draft, suggestions
from kb.services.note_editing import add_note, link_note
from kb.services.report_head import with_head
from kb.services.session import Session

HINT = "missbook note QUESTION shows what may cover it; --next walks through them."


@click.command(name="note")
@click.argument("question", required=False)
@click.option("--next", "walk", is_flag=True, help="Walk through misses, the last block first.")
@click.option("--source", default="", metavar="SOURCE", help="With --next: only this source.")
@click.option("--since", type=DAY, metavar="DATE", help="With --next: only on or after this day.")
@click.option("--link", metavar="NOTE", help="Let this note answer QUESTION too.")
@click.option("--text", metavar="TEXT", help="Write a new note with this text.")
@click.option("--title", default="", metavar="TEXT", help="Its title. Default: its first line.")
@click.option("--area", default="", metavar="AREA", help="Its area. Default: that of QUESTION.")
@click.option(
    "--concept", "concepts", multiple=True, metavar="TEXT", help="A concept of it; may be repeated."
)
@click.option("--basis", default="", metavar="TEXT", help="Where you checked the fact.")
@click.option("--edit", is_flag=True, help="Write the new note in your editor.")
@click.option("--dismiss", type=OneOf([*REASONS, "nothing"]), help="Dismiss the miss: why.")
@paged(10)
@no_patient_option
@with_call
def command(
    call: Call,
    question: str | None,
    walk: bool,
    source: str,
    since: date | None,
    link: str | None,
    text: str | None,
    title: str,
    area: str,
    concepts: tuple[str, ...],
    basis: str,
    edit: bool,
    dismiss: str | None,
    limit: int,
    page: int,
    no_patient: bool,
) -> None:
    """List misses without a note, and write or link a note for one.

    For QUESTION, the notes that may already cover it are shown. Then --link one of them, write a
    new one with --text or --edit, or --dismiss the miss if there is nothing to learn from it.
    """
    session = call.session
    if walk:
        if not interactive():
            hint = "in a script, name the question: missbook note north:1041 --text ..."
            raise QueryError(
                "--next asks questions, and there is no terminal to answer at", hint=hint
            )
        own = session.exam.area(area).id if area else ""
        next_miss(session, area=own, source=source, since=since, basis=basis)
        return
    if question is None:
        if link or text or dismiss or edit:
            raise QueryError("which question is it for?", hint="such as: missbook note north:1041")
        call.say_problems()
        listed = misses_report(session.base, session.today, limit, page, HINT)
        call.show(with_head(listed, session.base, session.today))
        return
    reference = question_reference(session, question)
    _check_logged(
        session, reference, needed=bool(dismiss) or not (link or edit or text is not None)
    )
    if link:
        note = session.note(link)
        link_note(session, note, reference)
        answered = f"{note.title} answers {reference}."
        call.answer({"note": note.id, "question": reference}, answered)
    elif dismiss:
        dismiss_miss(session, reference, dismiss)
        dismissed = f"{reference} is dismissed: {label(dismiss).lower()}."
        call.answer({"dismissed": reference, "reason": dismiss}, dismissed)
    elif text is not None or edit:
        body = text if text is not None else written(session, reference)
        keep_draft(session, reference, body)
        check_no_patient((body, title, basis, *concepts), no_patient)
        new, guessed = draft(session, reference, body, title, area, concepts, basis)
        if guessed:
            say(f"Area {new.areas[0]}, from the closest notes; to change it: --area.")
        _write(call, new, body)
    else:
        hits = cover(session, reference)
        call.show(covering_report(session.base, session.today, reference, hits))


def _check_logged(session: Session, reference: QuestionId, *, needed: bool) -> None:
    """Point out a question that was never logged; refuse it where there must be a miss of it."""
    if any(attempt.question == reference for attempt in session.base.attempts):
        return
    if needed:
        hint = f"check the number, or log it first: missbook log one {reference} x"
        raise NotFoundError(f"{reference} has never been logged", hint=hint)
    say(f"The log does not have {reference} yet.")


def _write(call: Call, blank: Note, body: str) -> None:
    """Write the note, and name the base's own concepts in its text when none was given."""
    session = call.session
    note = add_note(session, blank, body)
    keep_draft(session)
    call.answer({"note": note.id, "path": note.path}, f"Written: {note.path}")
    offered = () if note.concepts else suggestions(session, note.questions[0], body).concepts
    if offered:
        say(f"It mentions concepts of yours: {', '.join(offered)}; add them under 'concepts:'.")
    if not note.basis:
        say("It has no basis yet: add where you checked the fact, under 'basis:'.")
