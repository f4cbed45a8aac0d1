"""Progress: the forecast first, then the standing of each area, then all other reports."""

from __future__ import annotations

import inspect
from typing import NamedTuple

from flask import Blueprint

from kb.core.wording import capital
from kb.presentation.render import cell_texts
from kb.presentation.report_model import Facts, Report, Table
from kb.services.report_registry import report_module, report_names
from kb.web import chart_images
from kb.web.links import area_address, report_address
from kb.web.places import READ_REPORTS
from kb.web.view_helpers import opened, show

HEADINGS = {
    "plan": "Plan",
    "sitting": "Papers",
    "forecast": "Forecast in full",
    "standing": "Standing in full",
    "reasons": "Reasons for misses",
    "certainty": "How reliable your certainty is",
    "rota": "Rota",
    "check": "Check of the base",
}
ELSEWHERE = (*READ_REPORTS, "find", "today")
LEAD = ("area", "standing_fraction", "range", "marks")
"""Columns of the standing report that are seen without a touch."""

screen = Blueprint("progress", __name__)


class AreaRow(NamedTuple):
    """An area: its standing with its range, its marks at risk, and the rest on touch."""

    name: str
    address: str
    standing: str
    likely: str
    at_risk: str
    rest: list[tuple[str, str]]


@screen.get("/progress")
def progress() -> str:
    """Where one is heading, and where one stands."""
    session = opened()
    forecast, standing = session.report("forecast"), session.report("standing")
    names = {str(area.id): area.name for area in session.exam.areas}
    rest = [n for n in report_names() if n not in (*ELSEWHERE, *HEADINGS)]
    return show(
        "progress.html",
        title="Progress",
        right=forecast.right,
        headline=_headline(forecast),
        facts=next((b for b in forecast.blocks if isinstance(b, Facts) and not b.quiet), None),
        refusal=next((b for b in forecast.blocks if not isinstance(b, Facts)), None),
        score=chart_images.chart("forecast"),
        rows=_rows(standing, names),
        standing=standing,
        reports=[
            (report_address(name), HEADINGS.get(name, capital(name)), _purpose(name))
            for name in (*HEADINGS, *rest)
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


def _rows(standing: Report, names: dict[str, str]) -> list[AreaRow]:
    table = next((b for b in standing.blocks if isinstance(b, Table) and b.key == "areas"), None)
    if table is None:
        return []
    shown = table.shown().filled()
    found = []
    for texts in cell_texts(shown):
        cells = dict(zip((column.key for column in shown.columns), texts, strict=True))
        area, standing_, likely, marks = (cells.pop(key, "") for key in LEAD)
        labels = {column.key: column.label for column in shown.columns}
        rest = [(labels[key], text) for key, text in cells.items() if text not in ("", "-")]
        likely = likely.replace(" %", "%")
        address = area_address(area)
        found.append(AreaRow(names.get(area, area), address, standing_, likely, marks, rest))
    return found


def _purpose(name: str) -> str:
    """The first line of a report's help."""
    return (inspect.getdoc(report_module(name)) or "").splitlines()[0]
