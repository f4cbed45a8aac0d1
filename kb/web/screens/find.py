"""Find: notes by words, with filters as a plain form."""

from __future__ import annotations

from flask import Blueprint

from kb.web.page import show_report

NAV = (30, "Find", "/find")
screen = Blueprint("find", __name__)


@screen.get("/find")
def find() -> str:
    """Notes for the words in the address."""
    return show_report("find")
