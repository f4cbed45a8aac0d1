"""Charts on the page: built once for each state of the base, drawn once for each style."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from functools import lru_cache
from typing import NamedTuple
from urllib.parse import urlencode

from flask import current_app

from kb.charts import Chart, Style, draw, style_of
from kb.core.errors import QueryError
from kb.core.model import Base
from kb.web.view_helpers import opened

WIDTHS = {"narrow": 340, "wide": 560}
"""Pixels: a phone held upright, and a column of the page."""
SCHEMES = ("light", "dark")
KEPT = "missbook.charts"
KEPT_COUNT = DRAWN_COUNT = 48
"""About as many as are looked at in an evening; memory is limited."""


class _Kept(NamedTuple):
    """Charts of one load of the base on one day, by name and options."""

    base: Base
    today: date
    charts: dict[tuple[object, ...], Chart]


def chart(name: str, given: Mapping[str, str] | None = None) -> Chart:
    """A chart of the open base; the page and each of its pictures share one.

    Raises:
        NotFoundError: No such chart, or an option names something that is not there.
        QueryError: An option is not one of the chart's, or not of its kind.
    """
    session = opened()
    kept: _Kept | None = current_app.extensions.get(KEPT)
    if kept is None or kept.base is not session.base or kept.today != session.today:
        kept = _Kept(session.base, session.today, {})
        current_app.extensions[KEPT] = kept
    asked = {key: value for key, value in (given or {}).items() if value}
    place = (name, *sorted(asked.items()))
    if place not in kept.charts:
        while len(kept.charts) >= KEPT_COUNT:
            kept.charts.pop(next(iter(kept.charts)))
        kept.charts[place] = session.chart(name, asked)
    return kept.charts[place]


def style(size: str, scheme: str) -> Style:
    """The style of a picture on the page.

    Raises:
        QueryError: The page has no such size or scheme.
    """
    if size not in WIDTHS or scheme not in SCHEMES:
        raise QueryError("no such size or scheme", hint=", ".join([*WIDTHS, *SCHEMES]))
    return style_of(WIDTHS[size], scheme, alone=False)


@lru_cache(maxsize=DRAWN_COUNT)
def drawn(built: Chart, wanted: Style) -> bytes:
    """A chart as SVG; the most recent ones are kept."""
    return draw(built, "svg", wanted)


def address(name: str, size: str, scheme: str, asked: Mapping[str, str] | None = None) -> str:
    """Where a picture of a chart is found."""
    query = {**(asked or {}), "size": size, "scheme": scheme}
    return f"/chart/{name}.svg?{urlencode(query)}"
