"""A note as the index sees it, and what of it goes into the index."""

from __future__ import annotations

import re
from array import array
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kb.language.normalise import key, words

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from kb.core.ids import NoteId

TITLE_WEIGHT = 3
CONCEPT_WEIGHT = 3
HEADING_EXTRA = 1
REMARK_WEIGHT = 1
"""How much more a word counts in a field than in the body, whole numbers so that every weight
is exact. Headings stand in the body already; theirs is on top. Chosen on two public collections."""

TITLE_END = 64
"""Positions below are in the title."""
FIELD_GAP = 8
LAST_POSITION = 65_000
LINK_TARGET = re.compile(r"\]\([^)\s]*(?:\s+\"[^\"]*\")?\)")


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One note as the index sees it; `digest` covers everything in it.

    `line` is the line of the file on which the body begins; `head` stands for its front matter, and
    is empty where the file's own time tells when the note was written.
    """

    id: NoteId
    path: str
    digest: str
    title: str
    areas: tuple[str, ...]
    concepts: tuple[str, ...]
    headings: tuple[str, ...]
    body: str
    remarks: tuple[str, ...]
    line: int = 1
    head: str = ""


Names = tuple[str, ...]
Counted = tuple[str, bytes]
"""Keys, a line each, and their weights."""
Record = tuple[str, str, str, Names, Names, Names, str, Names, int, str, Counted]
"""What is stored of a page: its fields in order, without the digest, and its keys with weights."""


def record(page: Page, found: Mapping[str, tuple[int, bytes]]) -> Record:
    """What is stored of a page; `found` are its `entries`."""
    return (
        page.id,
        page.path,
        page.title,
        page.areas,
        page.concepts,
        page.headings,
        page.body,
        page.remarks,
        page.line,
        page.head,
        counted(found),
    )


def exact(kind: str, keys: Iterable[str]) -> str:
    """The key under which a whole title or concept stands; `kind` is `t` or `c`."""
    return f"\x01{kind} " + " ".join(keys)


def entries(page: Page, seen: set[str] | None = None) -> tuple[dict[str, tuple[int, bytes]], int]:
    """Keys of a page with weight and positions, and the page's weighted length.

    Whole titles and concepts have keys of their own, which do not count for the length. The
    words as written are added to `seen`, if it is given.
    """
    body = page.body
    found: dict[str, list[int]] = {}
    extra: dict[str, int] = {}
    whole: list[str] = []

    def take(text: str, at: int, weight: int, last: int = LAST_POSITION) -> int:
        written = words(text)
        if seen is not None:
            seen.update(written)
        for word in written:
            name = key(word)
            if name:
                held = found.get(name)
                if held is None:
                    found[name] = [at]
                else:
                    held.append(at)
                if weight > 1:
                    extra[name] = extra.get(name, 0) + weight - 1
            if at < last:
                at += 1
        return at

    take(page.title, 0, TITLE_WEIGHT, TITLE_END - 1)
    whole.append(exact("t", _names(page.title)))
    at = TITLE_END + FIELD_GAP
    for concept in page.concepts:
        at = take(concept, at, CONCEPT_WEIGHT) + FIELD_GAP
        whole.append(exact("c", _names(concept)))
    at = take(LINK_TARGET.sub("]", body) if "](" in body else body, at, 1) + FIELD_GAP
    for remark in page.remarks:
        at = take(remark, min(at, LAST_POSITION), REMARK_WEIGHT) + FIELD_GAP
    for heading in page.headings:
        for name in _names(heading):
            if name in found:
                extra[name] = extra.get(name, 0) + HEADING_EXTRA
    result: dict[str, tuple[int, bytes]] = {}
    length = 0
    for name, places in found.items():
        weight = len(places) + extra.get(name, 0)
        length += weight
        result[name] = (weight, array("H", places).tobytes())
    for name in whole:
        result[name] = (1, b"")
    return result, length


def counted(found: Mapping[str, tuple[int, bytes]]) -> Counted:
    """Keys and weights of `entries` as they are stored."""
    return "\n".join(found), array("I", (weight for weight, _ in found.values())).tobytes()


def weights(stored: Counted) -> dict[str, int]:
    """Keys and weights as `counted` stored them."""
    names, raw = stored
    return dict(zip(names.split("\n"), array("I", raw), strict=True)) if names else {}


def _names(text: str) -> list[str]:
    return [name for name in map(key, words(text)) if name]


def surface(seen: Iterable[str]) -> set[str]:
    """Of words as written those that can be looked for, lower-case."""
    return {word.lower() for word in seen if len(word) > 2 and word.isalpha() and key(word)}
