"""Gaps: where the base is thin."""

from __future__ import annotations

from flask import Blueprint

from kb.web.view_helpers import show_report

NAV = (70, "Gaps", "/gaps")
screen = Blueprint("gaps", __name__)


@screen.get("/gaps")
def gaps() -> str:
    """The report, with its options."""
    return show_report("gaps")
