"""Words of a note with emphasis, code and links -> the marked text of a printed paragraph."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import unquote
from xml.sax.saxutils import escape

from kb.export.pdf import fonts
from kb.formats.markdown import resolve

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from markdown_it.token import Token

TAGS = {
    "strong_open": "<b>",
    "strong_close": "</b>",
    "em_open": "<i>",
    "em_close": "</i>",
    "s_open": "<strike>",
    "s_close": "</strike>",
    "softbreak": " ",
    "hardbreak": "<br/>",
}
LONGEST_ADDRESS = 300


def marked(text: str, family: str = fonts.TEXT, around: str = fonts.TEXT) -> str:
    """Plain text as markup for a paragraph in the font `around`, each piece in a font that has its
    characters.
    """
    pieces = []
    for piece, face in fonts.runs(text, family):
        size = ' size="-1"' if face == fonts.CODE else ""
        shown = escape(piece)
        pieces.append(shown if face == around else f'<font face="{face}"{size}>{shown}</font>')
    return "".join(pieces)


def line(tokens: Sequence[Token], path: str, numbers: Mapping[str, int]) -> str:
    """The marked text of a paragraph's tokens; pictures are left to the caller.

    Links start from `path`, the note's own; `numbers` are those of the notes of the print, by path.
    """
    pieces: list[str] = []
    targets: list[str] = []
    for token in tokens:
        if token.type in TAGS:
            pieces.append(TAGS[token.type])
        elif token.type == "code_inline":
            pieces.append(marked(token.content, fonts.CODE))
        elif token.type == "link_open":
            targets.append(str(token.attrGet("href") or ""))
        elif token.type == "link_close":
            pieces.append(_where(targets.pop(), path, numbers, "".join(pieces)))
        elif token.type == "image":
            pieces.append(marked(f"[{token.content or 'picture'}]"))
        elif token.content:
            pieces.append(marked(token.content))
    return "".join(pieces)


def _where(target: str, path: str, numbers: Mapping[str, int], before: str) -> str:
    """A link on paper: the number of a note in this print, or a web address."""
    inside = resolve(target, path)
    if inside is None:
        address = unquote(target)
        if target.startswith("#") or before.endswith(marked(address)):
            return ""
        return marked(f" ({address[:LONGEST_ADDRESS]})")
    return f" (\u2192\u00a0{numbers[inside]})" if inside in numbers else ""
