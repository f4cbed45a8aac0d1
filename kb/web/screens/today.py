"""Today: what the plan asks for, and what is most urgent."""

from __future__ import annotations

from flask import Blueprint

from kb.web.view_helpers import opened, show

NAV = (10, "Today", "/")
screen = Blueprint("today", __name__)


@screen.get("/")
def today() -> str:
    """The report without options: the first page stays calm."""
    report = opened().report("today")
    return show("plain_report.html", title=report.title, right=report.right, report=report)
