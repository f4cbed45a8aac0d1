"""Chosen notes as a PDF: A4, two columns, the caution at the foot of every page.

Its outline, which a reading program shows beside the pages, leads to each area and note.

The same notes on the same day always give the same bytes.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import partial
from io import BytesIO
from typing import Any

from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import BaseDocTemplate, Frame, KeepTogether, PageTemplate, Paragraph

from kb.export.handout import Handout, Leaf
from kb.export.pdf import fonts
from kb.export.pdf.blocks import Flow
from kb.export.pdf.flowables import Place, Rule, Ruled, Ticked
from kb.export.pdf.inline import marked
from kb.export.pdf.styles import (
    BOTTOM,
    COLUMN,
    FIRST_TOP,
    GAP,
    HAIRLINE,
    MARGIN,
    MM,
    PAGE_HEIGHT,
    PAGE_WIDTH,
    TOP,
    style,
)

LANGUAGE = "en-GB"
CREATOR = "missbook"


@dataclass(frozen=True, slots=True, kw_only=True)
class Printed:
    """A PDF: its bytes and how many pages it has."""

    raw: bytes
    page_count: int


def write_pdf(handout: Handout, line_count: int = 0) -> Printed:
    """Make a PDF of these notes, in their order, with so many ruled lines under each.

    Raises:
        KBError: A font is missing.
    """
    fonts.register()
    out = BytesIO()
    document = BaseDocTemplate(
        out,
        pagesize=(PAGE_WIDTH, PAGE_HEIGHT),
        title=handout.title,
        author="",
        subject=handout.caution,
        creator=CREATOR,
        displayDocTitle=1,
        lang=LANGUAGE,
        invariant=1,
        pageCompression=1,
        initialFontName=fonts.TEXT,
    )
    templates = []
    for name, top, later in (("first", FIRST_TOP, "later"), ("later", TOP, None)):
        height = PAGE_HEIGHT - top - BOTTOM
        frames = [
            Frame(left, BOTTOM, COLUMN, height, *(0, 0, 0, 0), id=f"{name}{left:.0f}")
            for left in (MARGIN, MARGIN + COLUMN + GAP)
        ]
        draw = partial(_frame_page, handout=handout, first=name == "first")
        templates.append(
            PageTemplate(id=name, frames=frames, onPage=draw, autoNextPageTemplate=later)
        )
    document.addPageTemplates(templates)
    document.build(_story(handout, line_count), canvasmaker=_Numbered)
    return Printed(raw=out.getvalue(), page_count=document.page)


def _story(handout: Handout, line_count: int) -> list[Any]:
    numbers = {leaf.path: number for number, leaf in enumerate(handout.leaves, start=1)}
    story: list[Any] = []
    groups = handout.areas() if handout.by_area else (("", handout.leaves),)
    for area, leaves in groups:
        for at, leaf in enumerate(leaves):
            parts = _leaf(leaf, numbers, handout, line_count)
            if handout.by_area and at == 0:
                name = area or "No area"
                parts = [Place(name, 0), Paragraph(marked(name), style("area")), *parts[1:]]
                if story:
                    parts.insert(0, Rule(above=8.0))
            story.append(KeepTogether(parts))
    return story


def _leaf(leaf: Leaf, numbers: Mapping[str, int], handout: Handout, line_count: int) -> list[Any]:
    """One note: number and title, why it is here, its text, and where it comes from."""
    above = Rule()
    above.keepWithNext = 1
    number = numbers[leaf.path]
    found: list[Any] = [
        above,
        Place(f"{number}  {leaf.title}", int(handout.by_area)),
        Ticked(f"{number}&nbsp;&nbsp;{marked(leaf.title)}", style("title")),
    ]
    area = "" if handout.by_area else leaf.area_name
    why = ", ".join(part for part in (area, leaf.state) if part)
    summary = ": ".join(part for part in (why, leaf.evidence) if part)
    for text in (summary, *leaf.lines):
        if text:
            paragraph = Paragraph(marked(text), style("small"))
            paragraph.keepWithNext = 1
            found.append(paragraph)
    found += Flow(leaf, numbers).all()
    found.append(Paragraph(marked(leaf.foot), style("small")))
    if line_count:
        found.append(Ruled(line_count))
    return found


def _frame_page(canvas: Any, document: Any, *, handout: Handout, first: bool) -> None:  # noqa: ANN401
    """Draw what surrounds the columns: title and day above, the caution below."""
    canvas.saveState()
    canvas.setLineWidth(HAIRLINE)
    right = PAGE_WIDTH - MARGIN
    top = PAGE_HEIGHT - (FIRST_TOP if first else TOP)
    size = 14 if first else 8
    room = right - MARGIN - fonts.width(handout.right, 9) - 12
    title = style("area" if first else "text").clone("head", fontSize=size, leading=size + 2)
    head = Paragraph(marked(_short(handout.title, room, size, bold=first)), title)
    _, height = head.wrap(room, 40)
    head.drawOn(canvas, MARGIN, top + 3 * MM)
    canvas.setFont(fonts.TEXT, 9 if first else 8)
    canvas.drawRightString(right, top + 3 * MM + 2.5, handout.right)
    canvas.setLineWidth(2 * HAIRLINE)
    canvas.line(MARGIN, top + 2 * MM, right, top + 2 * MM)
    canvas.setLineWidth(HAIRLINE)
    canvas.line(PAGE_WIDTH / 2, BOTTOM, PAGE_WIDTH / 2, top)
    canvas.line(MARGIN, BOTTOM - 2 * MM, right, BOTTOM - 2 * MM)
    foot = Paragraph(marked(handout.caution), style("small"))
    _, height = foot.wrap(right - MARGIN - 60, 40)
    foot.drawOn(canvas, MARGIN, BOTTOM - 3.2 * MM - height)
    canvas.restoreState()


def _short(text: str, room: float, size: float, *, bold: bool) -> str:
    """A title on one line, cut at a word if it does not fit."""
    words = text.split() or [""]
    cuts = [" ".join(words[:count]) for count in range(len(words), 0, -1)]
    cuts += [words[0][:length] for length in range(len(words[0]), 0, -1)]
    tries = (text, *(f"{cut} \u2026" for cut in cuts))
    return next((t for t in tries if fonts.width(t, size, bold=bold) <= room), " \u2026")


class _Numbered(Canvas):  # type: ignore[misc] # the PDF library is untyped
    """A canvas that knows the number of pages when it writes one, and fills the outline."""

    def __init__(self, *words: Any, **options: Any) -> None:  # noqa: ANN401
        super().__init__(*words, **options)
        self._pages: list[dict[str, Any]] = []
        self.places: list[tuple[str, int, float, float]] = []

    def showPage(self) -> None:
        """Keep the page until it is known how many there are."""
        self._pages.append(dict(self.__dict__))
        self.places = []
        self._startPage()

    def save(self) -> None:
        """Write all pages with their numbers."""
        for number, page in enumerate(self._pages, start=1):
            self.__dict__.update(page)
            self.setFont(fonts.TEXT, 8)
            label = f"page {number} of {len(self._pages)}"
            self.drawRightString(PAGE_WIDTH - MARGIN, BOTTOM - 3.2 * MM - 8, label)
            self._outline(number)
            super().showPage()
        super().save()

    def _outline(self, page: int) -> None:
        for at, (title, level, left, top) in enumerate(self.places):
            key = f"page{page}place{at}"
            self.bookmarkPage(key, fit="XYZ", left=left, top=top)
            self.addOutlineEntry(" ".join(title.split()), key, level)
