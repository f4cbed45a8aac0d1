"""Sizes and spaces of a print, in points: one ink, hairlines, small but readable."""

from functools import cache

from reportlab.lib.styles import ParagraphStyle

from kb.export.pdf import fonts

MM = 72 / 25.4
PAGE_WIDTH, PAGE_HEIGHT = 210 * MM, 297 * MM
MARGIN = 13 * MM
GAP = 9 * MM
COLUMN = (PAGE_WIDTH - 2 * MARGIN - GAP) / 2
TOP, FIRST_TOP, BOTTOM = 19 * MM, 25 * MM, 20 * MM
"""Above the columns of a later page and of the first, and below them."""
FIRST_HEIGHT = PAGE_HEIGHT - FIRST_TOP - BOTTOM
HAIRLINE = 0.3
TEXT_SIZE, SMALL_SIZE, CODE_SIZE = 9.0, 7.6, 7.0
"""An x-height of 4.4 points at 9: about that of a newspaper."""
TABLE_SIZES = (8.4, 7.4)
"""Letters of a table; the smaller size where it is too wide for its column in the larger one."""
INDENT = 11.0
BOX = 6.5
"""A side of the box to tick at the right of a title."""


BOLD = {"fontName": f"{fonts.TEXT}b", "keepWithNext": 1}
TITLE = {**BOLD, "fontSize": 10.2, "leading": 12.2}
CELL = {"fontSize": TABLE_SIZES[0], "leading": 10.2}
KINDS: dict[str, dict[str, object]] = {
    "text": {},
    "small": {"fontSize": SMALL_SIZE, "leading": 9.3, "spaceAfter": 1.5},
    "title": {**TITLE, "spaceAfter": 0, "rightIndent": BOX + 4},
    "area": {**TITLE, "fontSize": 11.5, "leading": 14, "spaceAfter": 3},
    "heading": {**BOLD, "spaceBefore": 2, "spaceAfter": 1},
    "cell": {**CELL, "spaceAfter": 0},
    "small_cell": {"fontSize": TABLE_SIZES[1], "leading": 9.0, "spaceAfter": 0},
    "row": {**CELL, "leftIndent": 8, "firstLineIndent": -8},
}
"""How each kind of paragraph differs from text."""


@cache
def style(name: str) -> ParagraphStyle:
    """One of the paragraph styles, by its kind."""
    text = ParagraphStyle(
        "text",
        fontName=fonts.TEXT,
        fontSize=TEXT_SIZE,
        leading=11.4,
        spaceAfter=3,
        allowWidows=0,
        allowOrphans=0,
        splitLongWords=1,
    )
    return ParagraphStyle(name, parent=text, **KINDS[name])
