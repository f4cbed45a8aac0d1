"""A table of a note on paper: as wide as its words need, or written out row by row where it cannot
fit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Paragraph, Table, TableStyle

from kb.export.pdf import fonts
from kb.export.pdf.styles import HAIRLINE, TABLE_SIZES, style

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from markdown_it.token import Token

PAD = 4.0
ALIGN = {"left": 0, "center": 1, "right": 2}


def table(
    rows: Sequence[Sequence[Token]], room: float, line: Callable[[Sequence[Token]], str]
) -> list[Any]:
    """The table as flowables, in a column of so many points.

    The heading is the first of the rows; `line` makes the words of a cell, which are its
    `children`, into the text of a paragraph.
    """
    count = max((len(row) for row in rows), default=0)
    if not count:
        return []
    plain = [[_plain(cell) for cell in row] + [""] * (count - len(row)) for row in rows]
    for name, size in zip(("cell", "small_cell"), TABLE_SIZES, strict=True):
        widths = _widths(plain, room, size)
        if widths:
            return [_grid(rows, widths, name, line)]
    return _written_out(rows, line)


def _widths(plain: Sequence[Sequence[str]], room: float, size: float) -> list[float]:
    """Widths that break no word, or nothing where there are none."""
    columns = list(zip(*plain, strict=True))
    wanted = [max(_wide(text, size) for text in cells) + PAD + 1 for cells in columns]
    if sum(wanted) <= room:
        return wanted
    least = [
        max((_wide(word, size) for text in cells for word in text.split()), default=0) + PAD + 1
        for cells in columns
    ]
    if sum(least) > room:
        return []
    spare = room - sum(least)
    more = [max(0.0, want - low) for want, low in zip(wanted, least, strict=True)]
    return [low + spare * part / (sum(more) or 1) for low, part in zip(least, more, strict=True)]


def _wide(text: str, size: float) -> float:
    """Width in bold, as any word of a table may be."""
    return fonts.width(text, size, bold=True)


def _grid(
    rows: Sequence[Sequence[Token]],
    widths: Sequence[float],
    name: str,
    line: Callable[[Sequence[Token]], str],
) -> Any:  # noqa: ANN401 - the PDF library is untyped
    cells = [[_cell(cell, name, line) for cell in row] for row in rows]
    cells = [row + [""] * (len(widths) - len(row)) for row in cells]
    ruled = TableStyle(
        [
            ("FONT", (0, 0), (-1, -1), fonts.TEXT, TABLE_SIZES[0]),
            ("VALIGN", (0, 0), (-1, -1), "TOP"),
            ("LEFTPADDING", (0, 0), (-1, -1), 0),
            ("RIGHTPADDING", (0, 0), (-1, -1), PAD),
            ("TOPPADDING", (0, 0), (-1, -1), 1),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
            ("LINEBELOW", (0, 0), (-1, 0), 2 * HAIRLINE, "black"),
            ("LINEBELOW", (0, 1), (-1, -1), HAIRLINE / 2, "black"),
        ]
    )
    return Table(
        cells,
        colWidths=list(widths),
        style=ruled,
        repeatRows=1 if len(cells) > 1 else 0,
        splitInRow=1,
        hAlign="LEFT",
        spaceBefore=1,
        spaceAfter=4,
    )


def _cell(cell: Token, name: str, line: Callable[[Sequence[Token]], str]) -> Any:  # noqa: ANN401
    side = str(cell.attrGet("style") or "").rpartition(":")[2]
    face = fonts.TEXT + ("b" if cell.tag == "th" else "")
    own = ParagraphStyle("own", parent=style(name), alignment=ALIGN.get(side, 0), fontName=face)
    return Paragraph(line(cell.children or []), own)


def _written_out(
    rows: Sequence[Sequence[Token]], line: Callable[[Sequence[Token]], str]
) -> list[Any]:
    """Each row as a line of its own: every cell behind the heading of its column."""
    heads = [line(cell.children or []) for cell in rows[0]]
    found = []
    for row in rows[1:] or rows:
        cells = [line(cell.children or []) for cell in row]
        named = [
            f"<b>{head}</b> {text}" if head.strip() and row is not rows[0] else text
            for head, text in zip(heads, cells, strict=False)
            if text.strip()
        ]
        found.append(Paragraph("; ".join(named), style("row")))
    return found


def _plain(cell: Token) -> str:
    return "".join(token.content or " " for token in cell.children or [])
