"""Progress: the forecast first, then the standing of each area, then all other reports."""

from flask import Blueprint

from kb.core.wording import capital
from kb.presentation.report_model import Facts, Report
from kb.services.report_registry import report_names
from kb.web import chart_images
from kb.web.links import report_address
from kb.web.places import READ_REPORTS
from kb.web.view_helpers import opened, show

HEADINGS = {
    "plan": "Plan",
    "sitting": "Papers",
    "forecast": "Forecast in full",
    "standing": "Standing in full",
    "gaps": "Gaps, and notes that say the same",
    "reasons": "Reasons for misses",
    "certainty": "How reliable your certainty is",
    "rota": "Rota",
    "check": "Check of the base",
}
ELSEWHERE = (*READ_REPORTS, "find", "today")

screen = Blueprint("progress", __name__)


@screen.get("/progress")
def progress() -> str:
    """Where one is heading, and where one stands."""
    session = opened()
    forecast, standing = session.report("forecast"), session.report("standing")
    rest = [n for n in report_names() if n not in (*ELSEWHERE, *HEADINGS)]
    return show(
        "progress.html",
        title="Progress",
        right=forecast.right,
        headline=_headline(forecast),
        facts=next((b for b in forecast.blocks if isinstance(b, Facts) and not b.quiet), None),
        refusal=next((b for b in forecast.blocks if not isinstance(b, Facts)), None),
        score=chart_images.chart("forecast"),
        standing=standing,
        reports=[
            (report_address(name), HEADINGS.get(name, capital(name))) for name in (*HEADINGS, *rest)
        ],
    )


def _headline(forecast: Report) -> str:
    """`141 of 200, about 95 in 100 to pass`; empty before there is a forecast."""
    facts = [fact for b in forecast.blocks if isinstance(b, Facts) for fact in b.facts]
    figures = {key: value for key, _, value, _ in facts}
    mean, items, chance = (figures.get(k) for k in ("mean_marks", "item_count", "pass_fraction"))
    if not isinstance(mean, float):
        return ""
    expected = f"{mean:.0f} of {items}"
    if not isinstance(chance, float):
        return f"{expected} expected"
    return f"{expected}, about {min(99, max(1, round(100 * chance)))} in 100 to pass"
