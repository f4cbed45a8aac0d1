"""Pictures of the numbers that the reports show: one file a chart, one file that draws them all.

A chart is a file `kb/charts/<name>.py` with `OPTIONS` and `build(base, today, **options) -> Chart`.
It computes nothing of its own: it asks the functions that the report asks, so that picture and
report can never differ. The drawing library is imported only when something is drawn.
"""

import logging
from types import ModuleType

from kb.charts._model import Chart as Chart
from kb.charts._theme import NARROWEST, PALETTES, WIDEST
from kb.charts._theme import WIDTH as WIDTH
from kb.charts._theme import Style as Style
from kb.core import plugins
from kb.core.errors import NotFoundError, QueryError, nearest

PROMISED = ("OPTIONS", "build")
FORMS = ("svg", "png", "pdf")


def chart_names() -> tuple[str, ...]:
    """Every chart there is, by file name."""
    return plugins.module_names("kb.charts")


def chart_module(name: str) -> ModuleType:
    """The module of one chart, imported on use.

    Raises:
        NotFoundError: There is no such chart; the hint offers the nearest.
    """
    if name not in chart_names():
        raise NotFoundError(f"no chart called '{name}'", hint=nearest(name, chart_names()))
    return plugins.load("kb.charts", name, PROMISED)


def style_of(width: int = WIDTH, palette: str = "print", *, alone: bool = True) -> Style:
    """How a chart is to style.

    Args:
        width: In pixels; in points for PDF.
        palette: `print`, on white; `light` or `dark`, as the page.
        alone: Whether it has its own title and the caution.

    Raises:
        QueryError: It would be too narrow or too wide to read.
    """
    if not NARROWEST <= width <= WIDEST:
        hint = f"from {NARROWEST} to {WIDEST}"
        raise QueryError(f"a chart {width} pixels wide cannot be read", hint=hint)
    return Style(width=width, palette=PALETTES[palette], alone=alone)


def draw(chart: Chart, form: str, style: Style) -> bytes:
    """A chart as SVG, PNG or PDF; the same chart gives the same bytes every time.

    Args:
        chart: One with something to draw.
        form: One of `FORMS`.
        style: Its width and colours, from `style_of`.
    """
    # Set before the import: silences the library's notice of where fonts are cached.
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    from kb.charts._layout import draw_chart

    return draw_chart(chart, form, style)
