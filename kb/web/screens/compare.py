"""Two diagnoses side by side, and the one note that compares them."""

from collections.abc import Mapping
from typing import Any

from flask import Blueprint, flash, request
from flask.typing import ResponseReturnValue

from kb.core.errors import KBError, QueryError
from kb.core.model import Note
from kb.core.wording import capital, counted
from kb.reports.mixups import evidence
from kb.services.comparison import APART, Comparison, compare, sides, without_empty, write
from kb.services.note_drafting import identifiers
from kb.services.session import Session
from kb.web.links import compare_address, note_address
from kb.web.screens.note import body_html
from kb.web.view_helpers import opened, refusal, see_other, show

FIELDS = ("apart", "text", "area", "basis")
screen = Blueprint("compare", __name__)


@screen.get("/compare")
def side_by_side() -> ResponseReturnValue:
    """What the notes say about each, or the note that compares them already."""
    one, other = _names(request.args)
    if not one or not other:
        return show("compare_ask.html", title="Compare two", one=one, other=other)
    session = opened(indexed=True)
    found = compare(session, one, other)
    if found.note is not None:
        return see_other(note_address(found.note.path))
    groups = (
        (capital(found.one), _told(session, found.first)),
        (capital(found.other), _told(session, found.second)),
    )
    return show(
        "compare.html",
        title=found.title,
        evidence=_evidence(found),
        groups=groups,
        both=_told(session, found.both),
        write_address=compare_address(one, other, write=True),
    )


def _names(given: Mapping[str, str]) -> tuple[str, str]:
    return given.get("one", "").strip(), given.get("other", "").strip()


def _evidence(found: Comparison) -> str:
    return f"{capital(evidence(found.mixup))}." if found.mixup else ""


def _told(session: Session, notes: tuple[Note, ...]) -> list[dict[str, Any]]:
    return [
        {"title": note.title, "address": note_address(note.path), "body": body_html(session, note)}
        for note in notes
    ]


@screen.get("/compare/note")
def ask() -> ResponseReturnValue:
    """The form of the note: what tells the two apart, and what the notes say about each."""
    one, other = _names(request.args)
    if not one or not other:
        return see_other(compare_address(one, other))
    session = opened(indexed=True)
    found = compare(session, one, other)
    if found.note is not None:
        return see_other(note_address(found.note.path))
    typed = {"apart": "", "text": sides(session, found), "area": found.area, "basis": ""}
    return _form(session, found, typed)


def _form(
    session: Session,
    found: Comparison,
    typed: Mapping[str, str],
    **more: Any,  # noqa: ANN401 - whatever the template wants
) -> str:
    return show(
        "compare_note.html",
        title=found.title,
        evidence=_evidence(found),
        one=found.one,
        other=found.other,
        back=compare_address(found.one, found.other),
        typed=typed,
        areas=session.exam.areas,
        question_count=len(found.questions),
        **more,
    )


@screen.post("/compare/note")
def save() -> ResponseReturnValue:
    """Write the note; sent twice, it is written once."""
    session = opened(indexed=True)
    found = compare(session, *_names(request.form))
    if found.note is not None:
        return see_other(note_address(found.note.path))
    typed = {name: request.form.get(name, "").replace("\r\n", "\n") for name in FIELDS}
    warned = identifiers(*typed.values())
    if warned and not request.form.get("confirmed"):
        return _form(session, found, typed, warned=warned)
    try:
        note = _written(session, found, typed)
    except KBError as error:
        return _form(session, found, typed, **refusal(error)), 400
    count = len(found.questions)
    answers = f"; it answers {counted(count, 'question')}" if count else ""
    flash(f"Written{answers}.")
    return see_other(f"{note_address(note.path)}#done")


def _written(session: Session, found: Comparison, typed: Mapping[str, str]) -> Note:
    apart = typed["apart"].strip()
    if not apart:
        raise QueryError("what tells them apart is still empty", hint="one line is enough")
    if not typed["area"] and found.area not in {area.id for area in session.exam.areas}:
        raise QueryError("the area of this note is not known", hint="choose it below")
    parts = (without_empty(f"{typed['text']}\n"), f"{APART} {apart}\n")
    body = "\n\n".join(part for part in parts if part)
    return write(session, found, body, typed["area"], typed["basis"].strip())
