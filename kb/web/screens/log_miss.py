"""A miss and its note: link one that may cover it, write a new one, or dismiss the miss."""

from collections.abc import Mapping
from typing import Any

from flask import Blueprint, flash, jsonify, request
from flask.typing import ResponseReturnValue

from kb.core.errors import ConflictError, KBError, QueryError
from kb.core.ids import REASONS, NoteId, QuestionId
from kb.core.labels import label
from kb.core.model import Note
from kb.core.pairs import parse_pair
from kb.presentation.open_misses import covering_report, misses_report
from kb.presentation.paging import LIMIT
from kb.services.answer_logging import dismiss_miss, question_reference
from kb.services.note_drafting import (
    area_of,
    cover,
    draft,
    identifiers,
    suggestions,
    written_already,
)
from kb.services.note_editing import add_note, link_note
from kb.services.session import Session
from kb.web.links import note_address
from kb.web.view_helpers import asked_number, message_and_hint, name_of, opened, see_other, show

FIELDS = ("body", "title", "area", "concepts", "basis")
NOTHING = "nothing"
LONGEST_TITLE = 200
MOST_COMPARED = 20_000
"""Characters of a text that are compared with the notes; a note about one idea has fewer."""

screen = Blueprint("log_miss", __name__)


@screen.get("/log/misses")
def misses() -> str:
    """Misses without a note, the costliest first."""
    session = opened()
    report = misses_report(session.base, session.today, LIMIT, asked_number("page"))
    return show("log_misses.html", report=report)


@screen.get("/log/miss/<question>")
def miss(question: str) -> str:
    """One miss: what is known of it, and the form of a note for it."""
    session = opened()
    return _miss_page(session, question_reference(session, question), {})


def _miss_page(
    session: Session,
    question: QuestionId,
    typed: Mapping[str, str],
    **more: Any,  # noqa: ANN401 - whatever the template wants
) -> str:
    report = covering_report(session.base, session.today, question, ())
    return show(
        "log_miss.html",
        report=report,
        told=report.blocks[:-2],
        pair=_pair(session, question),
        back=own_address(request.values.get("back", "")),
        **miss_parts(session, question, typed),
        **more,
    )


def _pair(session: Session, question: QuestionId) -> tuple[str, str] | None:
    """The two that were mixed up, where the remark of a miss names them."""
    remarks = [a.remark for a in session.base.attempts if a.question == question and not a.right]
    return next((pair for remark in remarks[::-1] if (pair := parse_pair(remark))), None)


def miss_parts(
    session: Session, question: QuestionId | str, typed: Mapping[str, str]
) -> dict[str, Any]:
    """What the form of a note needs; empty fields hold what is proposed.

    Args:
        session: The open base.
        question: The missed question; empty for a form that a script fills in.
        typed: What the person typed already.
    """
    values = {name: typed.get(name, "") for name in FIELDS}
    found: dict[str, Any] = {"near": [], "area": "", "concepts": ""}
    if question:
        found = _found(session, question_reference(session, question), values["body"])
        if not values["body"].strip():
            found["concepts"] = ""
    values["area"] = values["area"] or found["area"]
    values["concepts"] = values["concepts"] or found["concepts"]
    return {
        "question": question,
        "note": values,
        "near": found["near"],
        "areas": session.exam.areas,
        "aside_reasons": (*REASONS, NOTHING),
    }


def _found(session: Session, question: QuestionId, text: str) -> dict[str, Any]:
    """Notes that may cover a text, its area and its concepts, as the form shows them."""
    offered = suggestions(session, question, text[:MOST_COMPARED])
    area = area_of(session, question) or offered.area
    notes = {note.id: note for note in session.base.notes}
    near: list[tuple[NoteId, bool, tuple[tuple[str, bool], ...]]]
    if text.strip():
        near = [(found.note, found.likely_same, ()) for found in offered.nearby]
    else:
        near = [(hit.note, False, hit.passage) for hit in cover(session, question)]
    rows = [
        _near(notes[own], likely=likely, passage=passage)
        for own, likely, passage in near
        if own in notes and question not in notes[own].questions
    ]
    return {"near": rows, "area": area, "concepts": ", ".join(offered.concepts)}


def _near(note: Note, *, likely: bool, passage: tuple[tuple[str, bool], ...]) -> dict[str, Any]:
    return {
        "title": note.title,
        "path": note.path,
        "address": note_address(note.path),
        "areas": ", ".join(name_of("area", area) for area in note.areas),
        "likely": likely,
        "passage": "".join(text for text, _ in passage),
    }


@screen.post("/log/miss/<question>/near")
def near(question: str) -> ResponseReturnValue:
    """The form again, with the notes that may cover what is typed in it."""
    session = opened()
    reference = question_reference(session, question)
    if wants_json():
        return jsonify(_found(session, reference, str(request.form.get("body", ""))))
    return _miss_page(session, reference, request.form)


@screen.post("/log/miss/<question>/link")
def link(question: str) -> ResponseReturnValue:
    """Link an existing note to the miss."""
    session = opened()
    reference = question_reference(session, question)
    try:
        note = session.note(request.form.get("note", ""))
        link_note(session, note, reference)
    except KBError as error:
        return _refused(session, reference, request.form, error)
    return _done(f"{note.title} answers {reference}.", note_address(note.path))


@screen.post("/log/miss/<question>/aside")
def aside(question: str) -> ResponseReturnValue:
    """Dismiss the miss."""
    session = opened()
    reference = question_reference(session, question)
    reason = request.form.get("reason", "")
    if reason not in (*REASONS, NOTHING):
        raise QueryError("why is it dismissed?", hint="press one of the reasons")
    dismiss_miss(session, reference, reason)
    return _done(f"{reference} is dismissed: {label(reason).lower()}.", "")


@screen.post("/log/miss/<question>")
def write(question: str) -> ResponseReturnValue:
    """Write a new note for the miss; anything that could identify a patient is queried first."""
    session = opened()
    reference = question_reference(session, question)
    typed = {name: request.form.get(name, "") for name in FIELDS}
    warned = identifiers(*typed.values())
    if warned and not request.form.get("confirmed"):
        if wants_json():
            return jsonify(warned=warned)
        return _miss_page(session, reference, typed, warned=warned)
    try:
        note = _written(session, reference, typed)
    except KBError as error:
        return _refused(session, reference, typed, error)
    return _done(f"Written: {note.title}.", note_address(note.path))


def _refused(
    session: Session, question: QuestionId, typed: Mapping[str, str], error: KBError
) -> ResponseReturnValue:
    """What is wrong, with the form as it was typed."""
    message, hint = message_and_hint(error)
    hint = "choose it below" if "area" in message and not typed.get("area") else hint
    if wants_json():
        return jsonify(error=message, hint=hint), 400
    return _miss_page(session, question, typed, refused=message, hint=hint), 400


def _written(session: Session, question: QuestionId, typed: Mapping[str, str]) -> Note:
    body = typed["body"].replace("\r\n", "\n")
    concepts = tuple(part.strip() for part in typed["concepts"].split(",") if part.strip())
    given = (typed["title"].strip(), typed["area"], concepts, typed["basis"].strip())
    new, _ = draft(session, question, body, *given)
    if len(new.title) > LONGEST_TITLE:
        hint = f"at most {LONGEST_TITLE} characters; the text itself may be longer"
        raise QueryError("give the note a shorter title", hint=hint)
    known = written_already(session, question, new.title, body)
    if known is not None and known.basis != new.basis:
        text = "the note is there already, with another basis"
        raise QueryError(text, hint="open it and edit it")
    if known is not None:
        return known
    try:
        return add_note(session, new, body)
    except ConflictError:  # another missbook wrote a note of that name, which may be this one
        session.reload()
        known = written_already(session, question, new.title, body)
        return known or add_note(session, new, body)


def _done(sentence: str, address: str) -> ResponseReturnValue:
    if wants_json():
        return jsonify(said=sentence, address=address)
    flash(sentence)
    return see_other(own_address(request.form.get("back", "")))


def own_address(given: str) -> str:
    """Where to go next: the log screen named by the form, or the list of misses."""
    return given if given == "/log" or given.startswith(("/log?", "/log/")) else "/log/misses"


def wants_json() -> bool:
    """Whether our own script is asking."""
    return request.accept_mimetypes.best == "application/json"
