"""The plan up to the exam, and the rota it is based on."""

from __future__ import annotations

from flask import Blueprint

from kb.web import chart_images
from kb.web.view_helpers import opened, show_report

NAV = (60, "Plan", "/plan")
screen = Blueprint("plan", __name__)


@screen.get("/plan")
def plan() -> str:
    """The plan, with other settings to try, and the rota."""
    return show_report(
        "plan",
        template="plan.html",
        rota=opened().report("rota"),
        progress=chart_images.chart("plan"),
    )
