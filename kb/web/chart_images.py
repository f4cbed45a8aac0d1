"""Charts on the page: built once for each state of the base, drawn once for each style."""

from collections.abc import Mapping
from functools import lru_cache
from urllib.parse import urlencode

from kb.charts import Chart, Style, draw, style_of
from kb.core.errors import QueryError
from kb.web.view_helpers import kept, opened

WIDTHS = {"narrow": 340, "wide": 560}
"""Pixels: a phone held upright, and a column of the page."""
SCHEMES = ("light", "dark")
DRAWN_COUNT = 48
"""About as many as are looked at in an evening; memory is limited."""


def chart(name: str, given: Mapping[str, str] | None = None) -> Chart:
    """A chart of the open base; the page and each of its pictures share one.

    Raises:
        NotFoundError: No such chart, or an option names something that is not there.
        QueryError: An option is not one of the chart's, or not of its kind.
    """
    asked = {key: value for key, value in (given or {}).items() if value}
    return kept(("chart", name, *sorted(asked.items())), lambda: opened().chart(name, asked))


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
