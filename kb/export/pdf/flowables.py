"""What is drawn rather than written on a print: hairlines, tick boxes, lines to write on.

And what is not seen at all: the places that the file's outline leads to.
"""

from reportlab.platypus import Paragraph
from reportlab.platypus.flowables import Flowable

from kb.export.pdf.styles import BOX, COLUMN, HAIRLINE, MM

LINE_HEIGHT = 7.0 * MM
"""Room for one line of handwriting (common practice, no source: ruled paper has 7 to 8 mm)."""
FAINT = (0.55, 0.55, 0.55)
"""Grey of lines to write on; the writing is darker."""


class Rule(Flowable):  # type: ignore[misc] # the PDF library is untyped, here and below
    """A hairline between notes, with room above and below; nothing at the top of a column."""

    def __init__(self, width: float = COLUMN, above: float = 3.0, below: float = 2.5) -> None:
        super().__init__()
        self.width, self._above, self._below = width, above, below

    def wrap(self, *_: float) -> tuple[float, float]:
        """Its width and height; nothing is above it only once it has its place."""
        frame = getattr(self, "_frame", None)
        self._top = bool(frame is not None and frame._atTop)
        return self.width, 0 if self._top else self._above + self._below

    def draw(self) -> None:
        """Draw the line."""
        if not self._top:
            self.canv.setLineWidth(HAIRLINE)
            self.canv.line(0, self._below, self.width, self._below)


class Ruled(Flowable):  # type: ignore[misc]
    """That many lines to write on."""

    def __init__(self, count: int) -> None:
        super().__init__()
        self._count = count

    def wrap(self, *_: float) -> tuple[float, float]:
        """Its width and height."""
        return COLUMN, self._count * LINE_HEIGHT + 3

    def draw(self) -> None:
        """Draw the lines."""
        self.canv.setLineWidth(HAIRLINE)
        self.canv.setStrokeColorRGB(*FAINT)
        for row in range(self._count):
            self.canv.line(0, 3 + row * LINE_HEIGHT, COLUMN, 3 + row * LINE_HEIGHT)


class Ticked(Paragraph):  # type: ignore[misc]
    """A note's title with a box at its right, to tick when it was read."""

    def draw(self) -> None:
        """Write the title and draw the box."""
        super().draw()
        self.canv.setLineWidth(HAIRLINE * 1.5)
        top = self.height - self.style.leading + 1.5
        self.canv.rect(COLUMN - BOX - 0.5, top, BOX, BOX)


class Place(Flowable):  # type: ignore[misc]
    """Where an area (level 0) or a note begins, for the outline that a reading program shows."""

    keepWithNext = 1

    def __init__(self, title: str, level: int) -> None:
        super().__init__()
        self._title, self._level = title, level

    def wrap(self, *_: float) -> tuple[float, float]:
        """It takes no room."""
        return 0, 0

    def draw(self) -> None:
        """Record the place."""
        left, height = self.canv.absolutePosition(0, 0)
        self.canv.places.append((self._title, self._level, left, height))
