"""Any report by its name, with its options as a form."""

from __future__ import annotations

from flask import Blueprint

from kb.core.errors import NotFoundError, nearest
from kb.services.report_registry import report_names
from kb.web.view_helpers import opened, show_report

NAV = None
DRAWN = {"certainty": "reliability"}
"""Reports that have a chart of the same options."""
screen = Blueprint("report", __name__)


@screen.get("/report/<name>")
def report(name: str) -> str:
    """One report."""
    if name not in report_names():
        raise NotFoundError(f"no report called '{name}'", hint=nearest(name, report_names()))
    if name in DRAWN:
        return show_report(name, template="drawn_report.html", drawn=DRAWN[name])
    if name == "check":
        titles = {note.path: note.title for note in opened().base.notes}
        return show_report(name, template="check.html", titles=titles)
    return show_report(name)
