"""Any report by its name, with its charts and its options as a form."""

from __future__ import annotations

from flask import Blueprint

from kb.core.errors import NotFoundError, nearest
from kb.services.report_registry import report_names
from kb.web.view_helpers import opened, show_report

DRAWN = {
    "certainty": ("reliability",),
    "forecast": ("forecast",),
    "plan": ("plan",),
    "standing": ("standing", "accuracy"),
}
"""Charts of a report; the first has the options of the report."""
screen = Blueprint("report", __name__)


@screen.get("/report/<name>")
def report(name: str) -> str:
    """One report."""
    if name not in report_names():
        raise NotFoundError(f"no report called '{name}'", hint=nearest(name, report_names()))
    if name == "check":
        titles = {note.path: note.title for note in opened().base.notes}
        return show_report(name, template="check.html", titles=titles)
    return show_report(name, drawn=DRAWN.get(name, ()))
