"""Pictures of the numbers that the reports show: one file a chart, one file that draws them all.

A chart is a file `kb/charts/<name>.py` with `OPTIONS` and `build(base, today, **options) -> Chart`.
It computes nothing of its own: it asks the functions that the report asks, so that picture and
report can never differ. The drawing library is imported only when something is drawn.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb import discover
from kb.charts._chart import Chart as Chart
from kb.errors import NotFoundError, QueryError, nearest

if TYPE_CHECKING:
    from pathlib import PurePath
    from types import ModuleType

    from kb.charts._look import Look

PROMISED = ("OPTIONS", "build")
FORMS = ("svg", "png", "pdf")


def chart_names() -> tuple[str, ...]:
    """Every chart there is, by file name."""
    return discover.module_names("kb.charts")


def chart_module(name: str) -> ModuleType:
    """The module of one chart, imported on use.

    Raises:
        NotFoundError: There is no such chart; the hint offers the nearest.
    """
    if name not in chart_names():
        raise NotFoundError(f"no chart called '{name}'", hint=nearest(name, chart_names()))
    return discover.load("kb.charts", name, PROMISED)


def form_of(path: PurePath) -> str:
    """The form that a file's suffix asks for: svg, png or pdf.

    Raises:
        QueryError: It is none of them.
    """
    form = path.suffix.casefold().removeprefix(".")
    if form not in FORMS:
        hint = "end it in " + ", ".join(f".{known}" for known in FORMS)
        raise QueryError(f"{path}: a chart cannot be written in that form", hint=hint)
    return form


def draw(chart: Chart, form: str, look: Look | None = None) -> bytes:
    """A chart as SVG, PNG or PDF; the same chart gives the same bytes every time.

    Args:
        chart: One with something to draw.
        form: One of `FORMS`.
        look: Its width and colours; printed on white if not given.
    """
    from kb.charts._draw import draw_chart
    from kb.charts._look import Look

    return draw_chart(chart, form, look or Look())
