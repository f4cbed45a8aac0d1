"""Any report by its name, with its charts and its options as a form."""

from contextlib import suppress

from flask import Blueprint, request
from flask.typing import ResponseReturnValue

from kb.core.errors import KBError, NotFoundError
from kb.services.reading_choices import record_choices
from kb.services.report_registry import READING_TODAY
from kb.web.links import note_address
from kb.web.view_helpers import opened, see_other, show_report

DRAWN = {
    "certainty": ("reliability",),
    "forecast": ("forecast",),
    "plan": ("plan",),
    "standing": ("standing", "accuracy"),
}
"""Charts of a report; the first has the options of the report."""
screen = Blueprint("report", __name__)


def _note_asked(words: str) -> str:
    """The path of the note named; empty if an area is, or nothing of that name."""
    session = opened()
    with suppress(NotFoundError):
        session.exam.area(words)
        return ""
    with suppress(KBError):
        return session.note(words).path
    return ""


@screen.get("/report/<name>")
def report(name: str) -> ResponseReturnValue:
    """One report; what surrounds a note has a screen of its own, on which it can be linked."""
    if name == "map" and (note := _note_asked(request.args.get("words", ""))):
        return see_other(f"{note_address(note)}/near")
    if name == "check":
        titles = {note.path: note.title for note in opened().base.notes}
        return show_report(name, template="check.html", titles=titles)
    if name in READING_TODAY:
        record_choices(opened())
    return show_report(name, drawn=DRAWN.get(name, ()))
