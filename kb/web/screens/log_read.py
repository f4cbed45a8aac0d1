"""Record that a note was read, and how long it took."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from flask import Blueprint, flash, request

from kb.core.errors import KBError, QueryError
from kb.services.answer_logging import expected_seconds, log_reading
from kb.web.links import note_address
from kb.web.screens.note import note_page
from kb.web.view_helpers import opened, said, see_other

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

    from kb.core.model import Note

MOST_SECONDS = 86400.0
screen = Blueprint("log_read", __name__)


@screen.app_context_processor
def estimates() -> dict[str, Any]:
    """Lets the page of a note say how long it takes to read."""

    def seconds_for(note: Note) -> int:
        return expected_seconds(opened(), note)

    return {"seconds_for": seconds_for}


@screen.get("/note/<path:path>/read")
def again(path: str) -> ResponseReturnValue:
    """Go back to the note when a refused form is reloaded."""
    return see_other(note_address(path))


@screen.post("/note/<path:path>/read")
def read(path: str) -> ResponseReturnValue:
    """Record one reading."""
    session = opened(indexed=True)
    note = session.note(path)
    typed = request.form.get("seconds", "").strip() or request.form.get("measured", "").strip()
    try:
        seconds = reading_seconds(typed)
        log_reading(session, note, seconds)
    except KBError as error:
        message, hint = said(error)
        return note_page(session, note, refused=message, hint=hint, typed=typed), 400
    flash("Marked as read." if seconds is None else f"Marked as read: {seconds:.0f} seconds.")
    return see_other(f"{note_address(note.path)}#done")


def reading_seconds(text: str) -> float | None:
    """Seconds as typed or measured; None for nothing.

    Raises:
        QueryError: It is no number, or longer than a day.
    """
    if not text:
        return None
    try:
        seconds = float(text.replace(",", "."))
    except ValueError:
        seconds = -1.0
    if not 0 <= seconds <= MOST_SECONDS:
        raise QueryError(f"seconds must be a number, such as 90; you typed '{text}'")
    return seconds
