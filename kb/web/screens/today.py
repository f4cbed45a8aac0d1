"""Today: what the plan holds for the day, and what most wants doing."""

from __future__ import annotations

from flask import Blueprint

from kb.web.page import show_report

NAV = (10, "Today", "/")
screen = Blueprint("today", __name__)


@screen.get("/")
def today() -> str:
    """What to do today."""
    return show_report("queue", {"limit": "5"})
