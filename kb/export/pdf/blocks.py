"""A note's Markdown -> the flowables of a printed column."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING, Any

from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import (
    Image,
    KeepTogether,
    ListFlowable,
    ListItem,
    Paragraph,
    Spacer,
    XPreformatted,
)

from kb.export.images import small
from kb.export.pdf import fonts
from kb.export.pdf.flowables import Rule
from kb.export.pdf.inline import line, marked
from kb.export.pdf.styles import CODE_SIZE, COLUMN, FIRST_HEIGHT, INDENT, style
from kb.export.pdf.tables import table
from kb.formats.markdown import renderer, resolve

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from markdown_it.token import Token

    from kb.export.handout import Leaf

DOTS_PER_INCH = 200
TALLEST = FIRST_HEIGHT * 0.45
CODE_ADVANCE = 0.6021
"""Width of every letter of the code font, as a share of its size."""
DEEPEST = 5
"""Lists nested deeper than this are not indented further: a column has no room for it."""

Flowables = list[Any]


class Flow:
    """Turns the text of one note into flowables; `numbers` are those of the notes of the print."""

    def __init__(self, leaf: Leaf, numbers: Mapping[str, int]) -> None:
        self._leaf, self._numbers = leaf, numbers
        self._depth = 0

    def all(self) -> Flowables:
        """The whole body of the note, without a first heading that only repeats its title."""
        tokens = renderer().parse(self._leaf.body)
        if tokens and tokens[0].type == "heading_open":
            heading = tokens[1].content.strip().casefold()
            if heading == self._leaf.title.strip().casefold():
                tokens = tokens[3:]
        return self._blocks(tokens)

    def _blocks(self, tokens: Sequence[Token]) -> Flowables:
        found: Flowables = []
        for token, inside in _parts(tokens):
            if token.type in ("paragraph_open", "heading_open"):
                name = "heading" if token.type == "heading_open" else "text"
                found += self._paragraph(inside[0].children or [], name)
            elif token.type in ("fence", "code_block"):
                found.append(self._code(token.content))
            elif token.type in ("bullet_list_open", "ordered_list_open"):
                found.append(self._list(token, inside))
            elif token.type == "blockquote_open":
                found += self._quoted(inside)
            elif token.type == "table_open":
                found += table(_rows(inside), self._room(), self._line)
            elif token.type == "hr":
                found.append(Rule(COLUMN / 3))
            elif token.content:
                found += self._paragraph([token], "text")
        return found

    def _room(self) -> float:
        return COLUMN - INDENT * min(self._depth, DEEPEST)

    def _line(self, tokens: Sequence[Token]) -> str:
        return line(tokens, self._leaf.path, self._numbers)

    def _paragraph(self, tokens: Sequence[Token], name: str) -> Flowables:
        found: Flowables = []
        shown = [t for t in tokens if t.type == "image" and self._path(t) in self._leaf.pictures]
        text = self._line([token for token in tokens if token not in shown])
        if text.strip():
            found.append(Paragraph(text, style(name)))
        for token in shown:
            found += self._picture(token)
        return found

    def _path(self, image: Token) -> str:
        return resolve(str(image.attrGet("src") or ""), self._leaf.path) or ""

    def _picture(self, image: Token) -> Flowables:
        pixels = round(max(COLUMN, TALLEST) / 72 * DOTS_PER_INCH)
        found = small(self._leaf.pictures[self._path(image)], pixels)
        caption = Paragraph(marked(image.content), style("small"))
        if found is None:
            label = f"[{image.content or 'picture'}: not an image that can be printed]"
            return [Paragraph(marked(label), style("small"))]
        # Never larger than on a screen of 96 dots to the inch.
        scale = min(self._room() / found.width, TALLEST / found.height, 72 / 96)
        width, height = found.width * scale, found.height * scale
        drawn = Image(BytesIO(found.raw), width=width, height=height, hAlign="LEFT")
        return [KeepTogether([drawn, caption] if image.content else [drawn])]

    def _code(self, text: str) -> Any:  # noqa: ANN401 - the PDF library is untyped
        room = int((self._room() - 6) / (CODE_SIZE * CODE_ADVANCE))
        lines = []
        for written in text.expandtabs(4).splitlines():
            pieces = [written[at : at + room] for at in range(0, len(written), room)] or [""]
            lines += [marked(piece, fonts.CODE, around=fonts.CODE) for piece in pieces]
        code = ParagraphStyle(
            "code",
            parent=style("text"),
            fontName=fonts.CODE,
            fontSize=CODE_SIZE,
            leading=8.8,
            leftIndent=6,
        )
        return XPreformatted("\n".join(lines) or " ", code)

    def _list(self, token: Token, inside: Sequence[Token]) -> Any:  # noqa: ANN401 - untyped
        ordered = token.type == "ordered_list_open"
        first = int(token.attrGet("start") or 1) if ordered else 0
        step = INDENT if self._depth < DEEPEST else 0
        items = [parts for _, parts in _parts(inside)]
        if ordered and step:
            last = first + len(items) - 1
            step = max(step, 4 + fonts.width(f"{last}.", style("text").fontSize))
        self._depth += 1
        rows = []
        for number, parts in enumerate(items, start=first):
            content = self._blocks(parts) or [Spacer(1, 1)]
            options = {"value": number} if ordered else {}
            rows.append(ListItem(content, spaceAfter=1, **options))
        self._depth -= 1
        kind = {"bulletType": "bullet", "start": "\u2013"}
        if ordered:
            kind = {"bulletType": "1", "bulletFormat": "%s."}
        return ListFlowable(
            rows,
            spaceAfter=3,
            leftIndent=step,
            bulletDedent=step,
            bulletFontName=fonts.TEXT,
            bulletFontSize=style("text").fontSize,
            bulletColor="black",
            **kind,
        )

    def _quoted(self, inside: Sequence[Token]) -> Flowables:
        self._depth += 1
        content = self._blocks(inside)
        self._depth -= 1
        step = INDENT if self._depth < DEEPEST else 0
        if not content:
            return []
        return [ListFlowable([ListItem(content)], bulletType="bullet", start="", leftIndent=step)]


def _parts(tokens: Sequence[Token]) -> Iterator[tuple[Token, Sequence[Token]]]:
    """Blocks in a row: the token that opens each, and the tokens inside it."""
    begun = depth = 0
    for at, token in enumerate(tokens):
        depth += token.nesting
        if not depth:
            yield tokens[begun], tokens[begun + 1 : at]
            begun = at + 1


def _rows(tokens: Sequence[Token]) -> list[list[Token]]:
    """Cells of a table, row by row: the opening token of each, its words in `children`."""
    rows: list[list[Token]] = []
    for place, token in enumerate(tokens):
        if token.type == "tr_open":
            rows.append([])
        elif token.type in ("th_open", "td_open"):
            token.children = tokens[place + 1].children
            rows[-1].append(token)
    return rows
