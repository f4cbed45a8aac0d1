"""Every report there is, with what it is for."""

from __future__ import annotations

import inspect

from flask import Blueprint

from kb.session import report_module, report_names
from kb.web.page import opened, show

NAV = (90, "More", "/more")
OWN_SCREEN = ("find", "forecast", "gaps", "history", "map", "plan", "sitting", "standing", "today")
"""Shown elsewhere: on a screen of their own, or as a part of one."""

screen = Blueprint("more", __name__)


@screen.get("/more")
def more() -> str:
    """The reports without a screen of their own, and the areas."""
    rows = [
        (name, (inspect.getdoc(report_module(name)) or "").splitlines()[0])
        for name in report_names()
        if name not in OWN_SCREEN
    ]
    return show("more.html", title="More", rows=rows, areas=opened().exam.areas)
