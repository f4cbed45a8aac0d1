"""Chart -> SVG, PNG or PDF. The only file that knows the drawing library.

One unit is a pixel in SVG, half a pixel each way in PNG (drawn at twice the density), a point in
PDF. Nothing depends on the settings of the machine: the library's own defaults are restored while
drawing, under a lock, since all threads share them.
"""

import io
import threading
import warnings
from typing import Any

import matplotlib
from matplotlib.axes import Axes

from kb.charts._artists import beneath_names, draw_elements
from kb.charts._model import Chart, Panel
from kb.charts._paper import FONT, SHARED_FRACTION, SIZE, SMALL, Paper
from kb.charts._svg import tidy_svg
from kb.charts._theme import WIDTH, Style
from kb.core.wording import CAUTION

LOCK = threading.Lock()
TITLE_SIZE = 15.5
LINE_HEIGHT = 1.3
EDGE, PAGE_EDGE = 12.0, 3.0
MOST_STRETCH = 1.5
"""How much taller plots may become on a sheet wider than usual."""
GAP = 14.0
ROW, TALL_ROW = 25.0, 38.0
DENSITY = {"png": 144.0}
SETTINGS = {
    "font.family": FONT,
    "font.size": SIZE,
    "svg.fonttype": "none",
    "svg.hashsalt": "missbook",
    "pdf.fonttype": 42,
    "hatch.linewidth": 0.7,
    "axes.unicode_minus": True,
    "path.simplify": False,
}


def draw_chart(chart: Chart, form: str, style: Style) -> bytes:
    """The chart as a file of that form."""
    with LOCK, matplotlib.rc_context(), warnings.catch_warnings():
        # A letter that the font lacks shows as a box; that needs no warning.
        warnings.filterwarnings("ignore", message="Glyph")
        matplotlib.rcdefaults()
        settings: Any = matplotlib.rcParams
        settings.update(SETTINGS)
        figure = Sheet(chart, style).figure
        out = io.BytesIO()
        figure.savefig(
            out,
            format=form,
            dpi=DENSITY.get(form, 72.0),
            facecolor=style.palette.paper,
            metadata=_metadata(chart, form),
        )
    raw = out.getvalue()
    return tidy_svg(raw, chart.title, chart.alternative) if form == "svg" else raw


def _metadata(chart: Chart, form: str) -> dict[str, str | None]:
    """Metadata without anything that differs between two runs or two versions of the library."""
    if form == "svg":
        return {"Date": None, "Creator": None, "Format": None, "Type": None}
    if form == "pdf":
        plain = {"Creator": "missbook", "Producer": None, "CreationDate": None}
        return {**plain, "Title": chart.title, "Subject": chart.alternative}
    return {"Software": None, "Title": chart.title, "Description": chart.alternative}


class Sheet(Paper):
    """Lays out title, panels and caution from the top down, and draws them."""

    def __init__(self, chart: Chart, style: Style) -> None:
        super().__init__(style)
        self.chart = chart
        if not chart.side_by_side and not all(panel.y.names for panel in chart.panels):
            self.names_fraction = SHARED_FRACTION
        self.edge = EDGE if style.alone else PAGE_EDGE
        self.head = self._lines(chart.title, TITLE_SIZE, bold=True) if style.alone else []
        self.sub = self._lines(chart.right, SMALL) if style.alone and chart.right else []
        self.foot = self._lines(CAUTION, SMALL) if style.alone else []
        self.key = self._lines(chart.key, SMALL)
        self.left, self.right = self._left(), self._right()
        self.height = self._total()
        self.figure.set_size_inches(style.width / 72, self.height / 72)
        self._draw()

    # Measures

    def _lines(self, text: str, size: float, *, bold: bool = False) -> list[str]:
        """Text broken to the width of the sheet."""
        lines: list[str] = []
        for word in text.split():
            longer = f"{lines[-1]} {word}" if lines else word
            if lines and self.width_of(longer, size, bold=bold) <= self.style.width - 2 * self.edge:
                lines[-1] = longer
            else:
                lines.append(word)
        return lines

    def _left(self) -> float:
        """Where the plots begin: right of the longest tick or row name."""
        words = []
        for panel in self.chart.panels:
            if not panel.y.names:
                words += [word for _, word in panel.y.ticks]
            elif not self.above(panel):
                words += list(panel.y.names)
        return (
            self.edge + max([self.width_of(word) for word in words] + [0.0]) + (10 if words else 0)
        )

    def _right(self) -> float:
        """Room to the right of the plots: half of the last tick may stick out."""
        ends = [(panel.x.ticks[-1], panel.x.high) for panel in self.chart.panels if panel.x.ticks]
        out = [self.width_of(word, SMALL) / 2 for (at, word), high in ends if at >= high - 1e-9]
        return max([self.edge, *out])

    def _plot_height(self, panel: Panel) -> float:
        if panel.y.names:
            return len(panel.y.names) * (TALL_ROW if self.above(panel) else ROW)
        return panel.height * min(MOST_STRETCH, max(1.0, self.style.width / WIDTH))

    def _top_of(self, panel: Panel) -> float:
        """Room above a plot: its title, and the label of its upright axis."""
        label = bool(panel.y.label) and not (panel.y.names and self.chart.side_by_side)
        room = (SIZE * LINE_HEIGHT + 3) * bool(panel.title) + (SMALL * LINE_HEIGHT + 7) * label
        return room + 4

    def _below(self, panel: Panel) -> float:
        """Room beneath a plot: its ticks, and the label of its level axis."""
        return self._tick_room() + SMALL * LINE_HEIGHT + 2 if panel.x.label else 0.0

    def _tick_room(self) -> float:
        return (SMALL * LINE_HEIGHT + 6) * any(panel.x.ticks for panel in self.chart.panels)

    def _total(self) -> float:
        tall = [
            self._top_of(panel) + self._plot_height(panel) + self._below(panel)
            for panel in self.chart.panels
        ]
        whole = max(tall) if self.chart.side_by_side else sum(tall) + GAP * (len(tall) - 1)
        words = TITLE_SIZE * LINE_HEIGHT * len(self.head) + SMALL * LINE_HEIGHT * len(self.sub)
        words += SMALL * LINE_HEIGHT * len(self.key) + 10 * bool(self.head or self.key)
        words += (SMALL * LINE_HEIGHT * len(self.foot) + 10) * bool(self.foot)
        return round(words + whole + 2 * self.edge + self._sill())

    def _sill(self) -> float:
        """Room above side-by-side panels for words on their top edge."""
        return SMALL * LINE_HEIGHT if self.chart.side_by_side else 0.0

    # Drawing

    def _draw(self) -> None:
        top = self.edge
        top = self._say(self.head, top, TITLE_SIZE, bold=True)
        top = self._say(self.sub, top, SMALL)
        top = self._say(self.key, top, SMALL) + 10 * bool(self.head or self.key)
        if self.chart.side_by_side:
            self._side_by_side(top + self._sill())
        else:
            for panel in self.chart.panels:
                top += self._top_of(panel)
                width = self.style.width - self.left - self.right
                height = self._plot_height(panel)
                self._panel(panel, self.left, top, width, height)
                top += height + self._below(panel) + GAP
        self._say(self.foot, self.height - self.edge - SMALL * LINE_HEIGHT * len(self.foot), SMALL)

    def _side_by_side(self, top: float) -> None:
        whole = self.style.width - self.left - self.right - GAP * (len(self.chart.panels) - 1)
        left, shares = self.left, sum(panel.share for panel in self.chart.panels)
        for number, panel in enumerate(self.chart.panels):
            width = whole * panel.share / shares
            height = self._plot_height(panel)
            self._panel(panel, left, top + self._top_of(panel), width, height, named=not number)
            left += width + GAP

    def _say(self, lines: list[str], top: float, size: float, *, bold: bool = False) -> float:
        """Lines of text from `top` down; returns where they end."""
        for line in lines:
            colour = self.palette.ink if bold else self.palette.quiet
            self._text(self.edge, top + size * 0.95, line, size, bold=bold, colour=colour)
            top += size * LINE_HEIGHT
        return top

    def _text(
        self, x: float, base: float, text: str, size: float, *, bold: bool = False, colour: str
    ) -> None:
        """Text whose base line begins at (x, base), in pixels from the top left; without room to
        its right it begins further left, and at worst it is cut short.
        """
        text = self.short(text, self.style.width - 2 * self.edge, size, bold=bold)
        last = self.style.width - self.edge - self.width_of(text, size, bold=bold)
        x = max(self.edge, min(x, last))
        self.figure.text(
            x / self.style.width,
            1 - base / self.height,
            text,
            size=size,
            weight="bold" if bold else "normal",
            color=colour,
            va="baseline",
            parse_math=False,
        )

    def _panel(
        self,
        panel: Panel,
        left: float,
        top: float,
        width: float,
        height: float,
        *,
        named: bool = True,
    ) -> None:
        """One panel whose plot has its upper left corner at (left, top)."""
        sheet_width, sheet_height = self.style.width, self.height
        axes = self.figure.add_axes(
            (
                left / sheet_width,
                1 - (top + height) / sheet_height,
                width / sheet_width,
                height / sheet_height,
            )
        )
        axes.set_xlim(panel.x.low, panel.x.high)
        axes.set_ylim(panel.y.low, panel.y.high)
        if panel.y.names:
            axes.invert_yaxis()
        self._frame(axes, panel)
        self._ticks(axes, panel, width, named=named)
        self._hold_ends(axes, left, width)
        self._labels(panel, left, top, height)
        draw_elements(axes, panel, self)

    def _frame(self, axes: Axes, panel: Panel) -> None:
        axes.patch.set_visible(False)
        for side, spine in axes.spines.items():
            spine.set_visible(side == "bottom")
            spine.set_color(self.palette.quiet)
            spine.set_linewidth(1.0)
        axes.tick_params(length=0, pad=4, colors=self.palette.quiet, labelsize=SMALL)
        axes.set_axisbelow(True)
        style: dict[str, Any] = {"color": self.palette.line, "linewidth": 0.7}
        if panel.y.names and self.above(panel):
            for tick, _ in panel.x.ticks:
                beneath_names(axes, tick, len(panel.y.names), zorder=0, **style)
        else:
            axes.grid(visible=True, axis="x" if panel.y.names else "y", **style)

    def _ticks(self, axes: Axes, panel: Panel, width: float, *, named: bool) -> None:
        shown = panel.x.ticks
        if panel.x.label:  # every one, or every second, third, ... from the last, that leaves room
            room = width / ((panel.x.high - panel.x.low) or 1.0)
            shown = tuple(shown[at] for at in self.thinned(shown, room, 6))
        axes.set_xticks([value for value, _ in panel.x.ticks])
        words = {value for value, _ in shown}
        keep = bool(panel.x.label)
        axes.set_xticklabels(
            [word if keep and value in words else "" for value, word in panel.x.ticks],
            parse_math=False,
        )
        if panel.y.names:
            self._rows(axes, panel, named=named)
            return
        axes.set_yticks([value for value, _ in panel.y.ticks])
        axes.set_yticklabels([word for _, word in panel.y.ticks], parse_math=False)

    def _hold_ends(self, axes: Axes, left: float, width: float) -> None:
        """Anchor the words of end ticks inside, where the sheet would cut them off."""
        low, high = axes.get_xlim()
        for tick, word in zip(axes.get_xticks(), axes.get_xticklabels(), strict=True):
            at = left + (tick - low) / ((high - low) or 1.0) * width
            half = self.width_of(word.get_text(), SMALL) / 2
            if at - half < 1:
                word.set_horizontalalignment("left")
            elif at + half > self.style.width - 1:
                word.set_horizontalalignment("right")

    def _rows(self, axes: Axes, panel: Panel, *, named: bool) -> None:
        axes.set_yticks([])
        for at in range(len(panel.y.names) + 1):
            axes.axhline(at - 0.5, color=self.palette.line, linewidth=0.7, zorder=0)
        if not named:
            return
        for at, whole in enumerate(panel.y.names):
            name = self.short(whole, self.style.width - 2 * self.edge - 4)
            if self.above(panel):
                place, offset, across, up = (0.0, at - 0.5), (0.0, -4.0), "left", "top"
            else:
                place, offset, across, up = (0.0, float(at)), (-8.0, 0.0), "right", "center"
            axes.annotate(
                name,
                place,
                xycoords=axes.get_yaxis_transform(),
                xytext=offset,
                textcoords="offset points",
                ha=across,
                va=up,
                size=SIZE,
                color=self.palette.ink,
                parse_math=False,
                annotation_clip=False,
                bbox=self.behind(),
                zorder=4,
            )

    def _labels(self, panel: Panel, left: float, top: float, height: float) -> None:
        base = top - 7
        if panel.y.label and not (panel.y.names and self.chart.side_by_side):
            base -= 3
            self._text(self.edge, base, panel.y.label, SMALL, colour=self.palette.quiet)
            base -= SMALL * LINE_HEIGHT + 4
        if panel.title:
            self._text(self.edge, base, panel.title, SIZE, bold=True, colour=self.palette.ink)
        if panel.x.label and self.chart.side_by_side and not panel.x.ticks:
            self._text(left, top - 6, panel.x.label, SMALL, colour=self.palette.quiet)
        elif panel.x.label:
            base = top + height + self._tick_room() + SMALL + 1
            self._text(left, base, panel.x.label, SMALL, colour=self.palette.quiet)
