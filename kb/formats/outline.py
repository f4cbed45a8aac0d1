"""Splits a note's text, and finds headings and links of a plain body without a Markdown parser.

Most bodies hold no code, escapes or nesting: then each line can be read by itself, a hundred times
faster. Any body that may not be so plain is left to the parser.
"""

from __future__ import annotations

import re
from bisect import bisect_left as bisect
from io import StringIO
from typing import NamedTuple

BOM = "\ufeff"

NOT_PLAIN = re.compile(
    r"[`<\\&\t\x00]|~~|!\[|\]:"  # code, HTML, escapes, entities, struck out, pictures, definitions
    r"|^ {0,3}(?:=+|-+) *$"  # what underlines a heading, or a rule
    r"|^ {4,}.*[#\[]"  # code by indentation
    r"|^ *(?:[-+*>]|\d+[.)]).*#",  # a heading in a list or a quotation
    re.MULTILINE,
)
HEADING = re.compile(r"^ {0,3}(#{1,6})(?: +(.*))?$", re.MULTILINE)
MARKED = re.compile(r"[#*_\[\]!~]")
LINK = re.compile(r"\[([^\[\]*_!~\n]*)\]\(([A-Za-z0-9._/#-]+)\)")

Heads = tuple[tuple[int, str, int], ...]
Targets = tuple[tuple[str, str, int], ...]


class Split(NamedTuple):
    """A note's text in two parts. `head` is None if there is no front matter.

    `head` begins on line 2 of the file, the body on `body_line`.
    """

    head: str | None
    body: str
    body_line: int = 1
    closed: bool = True


def split_lines(text: str) -> list[str]:
    """Lines with their ends: line feed, carriage return, or both; no other character ends one."""
    return list(StringIO(text, newline=""))


def halves(text: str) -> Split:
    """Front matter and body. Front matter that is not closed is part of the body."""
    lines = split_lines(text)
    if not lines or lines[0].removeprefix(BOM).rstrip() != "---":
        return Split(None, text.removeprefix(BOM))
    for number, line in enumerate(lines[1:], start=1):
        if line.rstrip() in ("---", "..."):
            return Split("".join(lines[1:number]), "".join(lines[number + 1 :]), number + 2)
    return Split(None, text.removeprefix(BOM), closed=False)


def outline(body: str) -> tuple[Heads, Targets] | None:
    r"""Headings as (level, text, line) and links as (target, text, line), as a CommonMark parser
    finds them; None if the body is not plain. Lines count from 0.

    >>> outline("# Potassium\nSee [sodium](../renal/sodium.md).")
    (((1, 'Potassium', 0),), (('../renal/sodium.md', 'sodium', 1),))
    >>> outline("Write `[x](y)` for a link.") is None
    True
    """
    body = body.replace("\r\n", "\n").replace("\r", "\n")
    if NOT_PLAIN.search(body):
        return None
    breaks = [match.start() for match in re.finditer("\n", body)]
    headings = []
    for match in HEADING.finditer(body):
        text = match[2] or ""
        if MARKED.search(text):
            return None
        headings.append((len(match[1]), text.strip(), bisect(breaks, match.start())))
    if "[" not in body:
        return tuple(headings), ()
    rest = LINK.sub("", body)
    if "[" in rest or "|" in body:
        return None
    links = tuple(
        (match[2], match[1].strip(), bisect(breaks, match.start())) for match in LINK.finditer(body)
    )
    return tuple(headings), links
