"""CommonMark: a note's body as safe HTML, and its headings and links.

markdown-it's preset `js-default` shows raw HTML as text, and makes links of harmless schemes only.
"""

from __future__ import annotations

import posixpath
from functools import cache
from typing import TYPE_CHECKING
from urllib.parse import unquote, urlsplit

from kb.core.model import Heading, Link
from kb.core.wording import visible
from kb.formats.outline import outline

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from markdown_it import MarkdownIt
    from markdown_it.rules_inline import StateInline
    from markdown_it.token import Token

    from kb.formats.outline import Heads, Targets

WIDE = '<div class="wide" tabindex="0" role="group" aria-label="Table">'
CROWD = 2000
"""Opening brackets in one paragraph from which on none of them begins a link."""
CROWD_OF_NOTE = 20_000
"""The same of a whole note: a second of work."""
CROWDED = -1
"""The key under which their number is cached; real keys are positions."""


@cache
def renderer() -> MarkdownIt:
    """The one configured parser: CommonMark plus tables, no raw HTML, no automatic links."""
    from markdown_it import MarkdownIt

    settings = {"html": False, "linkify": False, "typographer": False, "xhtmlOut": True}
    parser = MarkdownIt("js-default", settings)
    parser.inline.ruler.before("link", "crowd", _crowd)
    return parser


def _crowd(state: StateInline, silent: bool) -> bool:
    """Take brackets literally where one paragraph, or the note so far, holds very many.

    The parser looks from each opening bracket to the end: a paragraph of brackets would take
    minutes, and every note of the base would wait.
    """
    if not state.src.startswith(("[", "!["), state.pos):
        return False
    if CROWDED not in state.cache:
        own = state.cache[CROWDED] = state.src.count("[")
        state.env["brackets"] = state.env.get("brackets", 0) + own
    if state.cache[CROWDED] < CROWD and state.env["brackets"] <= CROWD_OF_NOTE:
        return False
    end = state.pos + 1
    while state.src.startswith("[", end):
        end += 1
    if not silent:
        state.pending += state.src[state.pos : end]
    state.pos = end
    return True


def to_page(body: str, path: str, address: Callable[[str, bool], str]) -> str:
    """Safe HTML of a note's body inside a page whose own heading is the note's title.

    Headings move down one level; aligned cells have the class `left`, `center` or `right`. Links to
    files of the base, relative to `path`, get what `address` gives for (path in the base, whether
    it is a picture); a link or picture for which that is empty, or a picture from elsewhere,
    becomes its text. Wide tables and code scroll by themselves.
    """
    tokens = renderer().parse(body)
    for number, token in enumerate(tokens):
        if token.type == "th_open" and not tokens[number + 1].content:
            # A screen reader would announce an empty cell as a heading.
            token.tag = tokens[number + 2].tag = "td"
        if token.type in ("heading_open", "heading_close"):
            token.tag = f"h{min(6, int(token.tag[1:]) + 1)}"
        elif token.type in ("th_open", "td_open") and token.attrs:
            # The page's policy forbids inline styles.
            token.attrs = {"class": str(token.attrGet("style")).rpartition(":")[2]}
        elif token.type == "inline":
            _lead(token.children or [], path, address)
    html = visible(str(renderer().renderer.render(tokens, renderer().options, {})))
    # What scrolls sideways must be within reach of the keyboard. The text is escaped, so every
    # element is one of ours.
    html = html.replace("<table>", f"{WIDE}<table>").replace("</table>", "</table></div>")
    return html.replace("<pre>", '<pre tabindex="0">')


def _lead(tokens: list[Token], path: str, address: Callable[[str, bool], str]) -> None:
    inert: list[bool] = []
    for token in tokens:
        if token.type == "image":
            target = resolve(str(token.attrGet("src") or ""), path)
            found = address(target, True) if target else ""
            if found:
                token.attrSet("src", found)
            else:
                token.type = "text"
                token.content = f"[picture: {token.content}]" if token.content else "[picture]"
        elif token.type == "link_open":
            inert.append(not _lead_link(token, path, address))
        elif token.type == "link_close" and inert.pop():
            token.tag = "span"


def _lead_link(token: Token, path: str, address: Callable[[str, bool], str]) -> bool:
    """Give a link its address; False if it has none and becomes plain text."""
    href = str(token.attrGet("href") or "")
    target = resolve(href, path)
    if target is None and not href.startswith("#"):
        token.attrSet("rel", "noopener noreferrer")
        return True
    found = address(target, False) if target else ""
    if found:
        token.attrSet("href", found)
    else:
        token.tag, token.attrs = "span", {}
    return bool(found)


def structure(
    body: str, path: str, first_line: int
) -> tuple[tuple[Heading, ...], tuple[Link, ...]]:
    """Headings and links to other files, in order, with their lines in the file.

    The body begins on its line `first_line`; relative targets start from `path`, in the base.
    """
    heads, targets = outline(body) or _parsed(body)
    headings = (Heading(text=text, level=level, line=first_line + n) for level, text, n in heads)
    links = (
        Link(target=unquote(target), text=text, path=resolved, line=first_line + line)
        for target, text, line in targets
        if (resolved := resolve(target, path)) is not None
    )
    return tuple(headings), tuple(links)


def _parsed(body: str) -> tuple[Heads, Targets]:
    """What `outline` finds in a body, by the parser."""
    heads: list[tuple[int, str, int]] = []
    targets: list[tuple[str, str, int]] = []
    tokens = renderer().parse(body)
    for number, token in enumerate(tokens):
        if token.type == "heading_open" and token.map:
            text = _plain_text(tokens[number + 1].children or [])
            heads.append((int(token.tag[1:]), text, token.map[0]))
        elif token.type == "inline" and token.map:
            targets.extend(_links(token, token.map[0]))
    return tuple(heads), tuple(targets)


def _links(inline: Token, line: int) -> Iterator[tuple[str, str, int]]:
    children = inline.children or []
    for number, token in enumerate(children):
        if token.type in ("softbreak", "hardbreak"):
            line += 1
        if token.type == "link_open":
            yield str(token.attrGet("href") or ""), _plain_text(children[number + 1 :]), line
        elif token.type == "image":
            yield str(token.attrGet("src") or ""), token.content, line


def _plain_text(tokens: list[Token]) -> str:
    words: list[str] = []
    for token in tokens:
        if token.type == "link_close":
            break
        if token.type in ("softbreak", "hardbreak"):
            words.append(" ")
        elif token.content:
            words.append(token.content)
    return "".join(words).strip()


def resolve(target: str, path: str) -> str | None:
    """The path in the base to which a link in the file `path` points.

    None if it points to no file (a web address, a heading of the same note); empty if it points
    outside the base.
    """
    try:
        parts = urlsplit(target)
    except ValueError:
        return ""
    if parts.scheme or parts.netloc or not parts.path:
        return None
    joined = posixpath.normpath(posixpath.join(posixpath.dirname(path), unquote(parts.path)))
    outside = joined.startswith(("../", "/")) or joined in ("..", ".") or "\\" in joined
    return "" if outside else joined
