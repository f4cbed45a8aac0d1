"""What is drawn rather than written on a print: hairlines, tick boxes, lines to write on.

And what is not seen at all: the places that the file's outline leads to.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

from kb.export.pdf.styles import BOX, COLUMN, HAIRLINE, MM, style

if TYPE_CHECKING:
    from reportlab.platypus.flowables import Flowable

LINE_HEIGHT = 7.0 * MM
"""Room for one line of handwriting (common practice, no source: ruled paper has 7 to 8 mm)."""
FAINT = (0.55, 0.55, 0.55)
"""Grey of lines to write on; the writing is darker."""


@cache
def _rule_kind() -> type[Flowable]:
    from reportlab.platypus.flowables import Flowable

    class Rule(Flowable):  # type: ignore[misc]
        """A hairline with room above and below; nothing at the top of a column."""

        def __init__(self, width: float, above: float, below: float) -> None:
            super().__init__()
            self.width, self._above, self._below = width, above, below

        def wrap(self, *_: float) -> tuple[float, float]:
            frame = getattr(self, "_frame", None)
            self._top = bool(frame is not None and frame._atTop)
            return self.width, 0 if self._top else self._above + self._below

        def draw(self) -> None:
            if not self._top:
                self.canv.setLineWidth(HAIRLINE)
                self.canv.line(0, self._below, self.width, self._below)

    return Rule


@cache
def _ruled_kind() -> type[Flowable]:
    from reportlab.platypus.flowables import Flowable

    class Ruled(Flowable):  # type: ignore[misc]
        """Lines to write on."""

        def __init__(self, count: int) -> None:
            super().__init__()
            self._count = count

        def wrap(self, *_: float) -> tuple[float, float]:
            return COLUMN, self._count * LINE_HEIGHT + 3

        def draw(self) -> None:
            self.canv.setLineWidth(HAIRLINE)
            self.canv.setStrokeColorRGB(*FAINT)
            for row in range(self._count):
                self.canv.line(0, 3 + row * LINE_HEIGHT, COLUMN, 3 + row * LINE_HEIGHT)

    return Ruled


@cache
def _ticked_kind() -> type[Flowable]:
    from reportlab.platypus import Paragraph

    class Ticked(Paragraph):  # type: ignore[misc]
        """A title with a box to tick at its right."""

        def draw(self) -> None:
            super().draw()
            self.canv.setLineWidth(HAIRLINE * 1.5)
            top = self.height - style("title").leading + 1.5
            self.canv.rect(COLUMN - BOX - 0.5, top, BOX, BOX)

    return Ticked


@cache
def _place_kind() -> type[Flowable]:
    from reportlab.platypus.flowables import Flowable

    class Place(Flowable):  # type: ignore[misc]
        """A place for the outline, which takes no room."""

        def __init__(self, title: str, level: int) -> None:
            super().__init__()
            self._title, self._level = title, level

        def wrap(self, *_: float) -> tuple[float, float]:
            return 0, 0

        def draw(self) -> None:
            left, height = self.canv.absolutePosition(0, 0)
            self.canv.places.append((self._title, self._level, left, height))

    return Place


def rule(width: float = COLUMN, above: float = 3.0, below: float = 2.5) -> Any:  # noqa: ANN401
    """A hairline between notes."""
    return _rule_kind()(width, above, below)


def ruled(count: int) -> Any:  # noqa: ANN401
    """That many lines to write on."""
    return _ruled_kind()(count)


def place(title: str, level: int) -> Any:  # noqa: ANN401
    """Where an area (level 0) or a note begins, for the outline that a reading program shows."""
    found = _place_kind()(title, level)
    found.keepWithNext = 1
    return found


def ticked(text: str) -> Any:  # noqa: ANN401
    """A note's title with a box to tick when it was read."""
    return _ticked_kind()(text, style("title"))
