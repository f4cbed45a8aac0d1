"""Standing and forecast: each area's standing, and the score it makes likely."""

from __future__ import annotations

from flask import Blueprint

from kb.web import chart_images
from kb.web.view_helpers import opened, show

NAV = (40, "Standing", "/standing")
screen = Blueprint("standing", __name__)


@screen.get("/standing")
def standing() -> str:
    """Both reports, one below the other."""
    session = opened()
    report = session.report("standing")
    return show(
        "standing.html",
        title=report.title,
        right=report.right,
        standing=report,
        forecast=session.report("forecast"),
        areas=chart_images.chart("standing"),
        rounds=chart_images.chart("accuracy"),
        score=chart_images.chart("forecast"),
    )
