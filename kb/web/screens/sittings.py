"""Papers and mocks: the list, and each in full."""

from flask import Blueprint

from kb.web import chart_images
from kb.web.view_helpers import opened, show

screen = Blueprint("sittings", __name__)


@screen.get("/sittings")
def sittings() -> str:
    """The papers sat, and those left."""
    report = opened().report("sitting")
    return show(
        "report_page.html",
        report=report,
        options=(),
        asked={},
        areas=(),
        button=("Record a paper", "/log/paper"),
    )


@screen.get("/sittings/<name>")
def sitting(name: str) -> str:
    """One paper in full."""
    report = opened().report("sitting", {"name": name})
    return show(
        "sitting.html",
        report=report,
        sitting=name,
        pace=chart_images.chart("pace", {"sitting": name}),
    )
