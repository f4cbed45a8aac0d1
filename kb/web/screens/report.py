"""Any report by its name, with its options as a form."""

from __future__ import annotations

from flask import Blueprint

from kb.errors import NotFoundError, nearest
from kb.session import report_names
from kb.web.page import show_report

NAV = None
screen = Blueprint("report", __name__)


@screen.get("/report/<name>")
def report(name: str) -> str:
    """One report."""
    if name not in report_names():
        raise NotFoundError(f"no report called '{name}'", hint=nearest(name, report_names()))
    return show_report(name)
