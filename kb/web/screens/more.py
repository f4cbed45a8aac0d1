"""Every report there is, with what it is for."""

from __future__ import annotations

import inspect

from flask import Blueprint

from kb.core.wording import capital
from kb.services.report_registry import report_module, report_names
from kb.web.links import compare_address, report_address
from kb.web.view_helpers import opened, show

NAV = (90, "More", "/more")
OWN_SCREEN = ("find", "forecast", "gaps", "history", "map", "plan", "sitting", "standing", "today")
"""Reports shown elsewhere: on a screen of their own, or as part of one."""

HEADINGS = {
    "queue": "Notes that need work",
    "reread": "Notes to reread",
    "retry": "Missed questions to try again",
    "brief": "Brief",
    "mixups": "Diagnoses you mix up",
    "reasons": "Why you miss",
    "certainty": "Is your certainty reliable?",
    "rota": "Rota",
    "check": "Check of the base",
}
"""Headings of the reports listed here, the most used first; a report not named comes last."""

screen = Blueprint("more", __name__)


@screen.get("/more")
def more() -> str:
    """The reports without a screen of their own, and the areas."""
    rest = [name for name in report_names() if name not in (*OWN_SCREEN, *HEADINGS)]
    rows = [
        (report_address(name), HEADINGS.get(name, name.capitalize()), _purpose(name))
        for name in (*HEADINGS, *rest)
    ]
    after = 1 + list(HEADINGS).index("mixups")
    rows.insert(after, (compare_address(), "Compare two", "What your notes say of each."))
    return show("more.html", title="More", rows=rows, areas=opened().exam.areas)


def _purpose(name: str) -> str:
    """The first line of a report's help, without words that its heading has already."""
    line = (inspect.getdoc(report_module(name)) or "").splitlines()[0]
    return capital(line.removeprefix(HEADINGS.get(name, "")).lstrip(",: "))
