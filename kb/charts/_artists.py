"""Elements on a panel: each kind of element as the drawing library draws it, in one ink."""

from functools import singledispatchmethod
from typing import Any

from matplotlib.axes import Axes
from matplotlib.colors import to_hex, to_rgb

from kb.charts._model import Bars, Dots, Element, Fill, Line, Panel, Rule, Side, Spans, Words
from kb.charts._paper import SMALL, Paper

DASHES: dict[str, Any] = {"solid": "solid", "dashed": (0, (5, 3)), "dotted": (0, (1.2, 2.4))}
ANCHORS: dict[Side, tuple[str, str, float]] = {
    "left": ("right", "center", 0),
    "right": ("left", "center", 0),
    "above": ("center", "bottom", 5),
    "below": ("center", "top", -5),
}
"""How words are anchored, horizontally and vertically, and how far from their point."""
SHAPES = {"disc": "o", "ring": "o", "square": "s", "cross": "x"}


def draw_elements(axes: Axes, panel: Panel, sheet: Paper) -> None:
    """Every element in its order; words last, so that no element covers them."""
    pen = _Pen(axes, panel, sheet)
    words = [element for element in panel.elements if isinstance(element, Words)]
    drawn = [element for element in panel.elements if not isinstance(element, Words)]
    kept = [element for element in words if not element.quiet]
    for element in [*drawn, *kept, *pen.fitting([m for m in words if m.quiet])]:
        pen.draw(element)


def beneath_names(axes: Axes, x: float, rows: int, **style: Any) -> None:  # noqa: ANN401
    """An upright line at x through the lower part of each row, so that it crosses no name."""
    at = [float(row) for row in range(rows)]
    axes.vlines([x] * rows, [row - 0.06 for row in at], [row + 0.5 for row in at], **style)


class _Pen:
    """Draws the elements of one panel."""

    def __init__(self, axes: Axes, panel: Panel, sheet: Paper) -> None:
        self.axes, self.panel, self.sheet = axes, panel, sheet
        self.palette = sheet.palette
        self.lift = 0.22 if panel.y.names and sheet.above(panel) else 0.0
        """With names above the rows, elements lie in the lower part of a row."""

    @singledispatchmethod
    def draw(self, element: Element) -> None:
        """One element, by its type."""
        raise TypeError(element)

    def fitting(self, words: list[Words]) -> list[Words]:
        """Words in a row, thinned to every second, third, ... so that they do not touch."""
        box = self.axes.get_position()
        per_unit = box.width * self.sheet.style.width / (self.panel.x.high - self.panel.x.low)
        words = sorted(words, key=lambda element: element.x)
        kept = self.sheet.thinned([(element.x, element.text) for element in words], per_unit, 2)
        return [words[at] for at in kept]

    def _shade(self, share: float) -> str:
        """A shade of the one ink: 0 is paper, 1 is ink."""
        pairs = zip(to_rgb(self.palette.ink), to_rgb(self.palette.paper), strict=True)
        red, green, blue = (share * ink + (1 - share) * paper for ink, paper in pairs)
        return to_hex((red, green, blue))

    @draw.register
    def _line(self, element: Line) -> None:
        xs, ys = zip(*element.points, strict=True)
        style = {
            "color": self.palette.ink,
            "linewidth": 1.2 if element.thin else 1.8,
            "linestyle": DASHES[element.dash],
        }
        if element.stepped:
            self.axes.step(xs, ys, where="mid", **style)
        else:
            self.axes.plot(xs, ys, **style)

    @draw.register
    def _dots(self, element: Dots) -> None:
        xs = [x for x, _ in element.points]
        ys = [y + self.lift for _, y in element.points]
        hollow = element.shape == "ring"
        self.axes.plot(
            xs,
            ys,
            linestyle="none",
            marker=SHAPES[element.shape],
            markersize=7.0,
            markeredgewidth=1.6,
            markeredgecolor=self.palette.ink,
            markerfacecolor=self.palette.paper if hollow else self.palette.ink,
            clip_on=False,
            zorder=4,
        )

    @draw.register
    def _spans(self, element: Spans) -> None:
        at = [where + self.lift * element.across for where, _, _ in element.spans]
        lows, highs = [low for _, low, _ in element.spans], [high for _, _, high in element.spans]
        lines = self.axes.hlines if element.across else self.axes.vlines
        width, shade = (7.0, 0.32) if element.thick else (1.6, 0.8)
        lines(at, lows, highs, color=self._shade(shade), linewidth=width, zorder=3)

    @draw.register
    def _bars(self, element: Bars) -> None:
        places = [at + self.lift * element.across for at, _ in element.bars]
        sizes = [size for _, size in element.bars]
        width = element.width * (0.7 if self.lift else 1.0)
        draw = self.axes.barh if element.across else self.axes.bar
        hollow = not element.shade
        draw(
            places,
            sizes,
            width,
            color="none" if hollow else self._shade(element.shade),
            edgecolor=self.palette.ink if hollow else "none",
            linewidth=1.2 if hollow else 0.0,
            zorder=2.5 if hollow else 2,
        )

    @draw.register
    def _fill(self, element: Fill) -> None:
        if len(element.points) < 2:
            return
        (x0, y0), (x1, y1) = element.points[0], element.points[-1]
        xs, ys = zip((x0 - 0.5, y0), *element.points, (x1 + 0.5, y1), strict=True)
        self.axes.fill_between(
            xs, ys, step="mid", color=self._shade(element.shade), linewidth=0, zorder=1
        )

    @draw.register
    def _rule(self, element: Rule) -> None:
        style: dict[str, Any] = {"color": self.palette.ink, "linewidth": 1.1, "zorder": 1.8}
        style["linestyle"] = DASHES["dashed"]
        if element.spread:
            hatch: dict[str, Any] = {"edgecolor": self._shade(0.35), "hatch": "////"}
            ends = element.at - element.spread, element.at + element.spread
            self.axes.axvspan(*ends, facecolor="none", linewidth=0.0, zorder=1.5, **hatch)
        if self.lift and not element.level:
            beneath_names(self.axes, element.at, len(self.panel.y.names), **style)
        else:
            draw = self.axes.axhline if element.level else self.axes.axvline
            draw(element.at, **style)

    @draw.register
    def _words(self, element: Words) -> None:
        side = element.side
        x = float(self.axes.transData.transform((element.x, element.y))[0])
        across, upright, up = ANCHORS[side]
        wide = self.sheet.width_of(element.text, SMALL)
        left = {"left": x - 7 - wide, "right": x + 7}.get(side, x - wide / 2)
        # Never off the sheet; words above or below a point not over what is left of the plot.
        first = float(self.axes.get_window_extent().x0) if across == "center" else 4.0
        left = min(max(left, first), self.sheet.style.width - 4 - wide)
        anchor = left + {"left": wide, "right": 0.0}.get(side, wide / 2) - x
        self.axes.annotate(
            element.text,
            (element.x, element.y + self.lift * (side in ("left", "right"))),
            xytext=(anchor, up),
            textcoords="offset points",
            ha=across,
            va=upright,
            size=SMALL,
            color=self.palette.quiet if element.quiet else self.palette.ink,
            parse_math=False,
            annotation_clip=False,
            bbox=self.sheet.behind(),
            zorder=5,
        )
