"""The sheet that a chart is drawn on: its figure, its ink, and how much room text takes."""

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties

from kb.charts._model import Panel
from kb.charts._theme import Style

FONT = "DejaVu Sans"
SIZE, SMALL = 12.5, 11.5
NAMES_FRACTION, SHARED_FRACTION = 0.4, 0.2
"""Row names longer than this part of the sheet are written above their rows; the second where
beside them they would make another panel narrower.
"""


class Paper:
    """A blank sheet of that style."""

    def __init__(self, style: Style) -> None:
        self.style, self.palette = style, style.palette
        self.names_fraction = NAMES_FRACTION
        self.figure: Figure = Figure(figsize=(style.width / 72, 1.0), dpi=72)
        canvas: Any = FigureCanvasAgg(self.figure)
        self.renderer: Any = canvas.get_renderer()

    def width_of(self, text: str, size: float = SIZE, *, bold: bool = False) -> float:
        """Width of one line of text in pixels."""
        font = FontProperties(family=FONT, size=size, weight="bold" if bold else "normal")
        width, _, _ = self.renderer.get_text_width_height_descent(text, font, False)
        return float(width)

    def short(self, text: str, room: float, size: float = SIZE, *, bold: bool = False) -> str:
        """The text, or as much of its beginning as has room."""
        cut = text
        while cut and self.width_of(cut, size, bold=bold) > room:
            text = text[:-1]
            cut = text.rstrip() + "\N{HORIZONTAL ELLIPSIS}"
        return cut

    def thinned(self, words: Sequence[tuple[float, str]], per_unit: float, gap: float) -> list[int]:
        """Which of some words in a row to keep: all, or every second, third, ... from the last, so
        that `gap` pixels are left between any two.
        """
        widths = [self.width_of(text, SMALL) for _, text in words]
        for step in range(1, len(words) + 1):
            kept = list(range(len(words)))[::-step][::-1]
            if all(
                (words[right][0] - words[left][0]) * per_unit
                >= (widths[left] + widths[right]) / 2 + gap
                for left, right in pairwise(kept)
            ):
                return kept
        return []

    def above(self, panel: Panel) -> bool:
        """Whether the names of a panel's rows stand above the rows."""
        longest = max([self.width_of(name) for name in panel.y.names] + [0.0])
        return bool(panel.y.names) and longest > self.names_fraction * self.style.width

    def behind(self) -> dict[str, Any]:
        """A background of paper for words on top of lines."""
        return {"boxstyle": "square,pad=0.1", "fc": self.palette.paper, "ec": "none", "alpha": 1.0}
