"""A note as the index sees it, and what of it goes into the index."""

from __future__ import annotations

import re
from array import array
from typing import TYPE_CHECKING

from kb.core.records import record
from kb.language.normalise import key, words

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from kb.core.ids import NoteId

TITLE_WEIGHT = 3
CONCEPT_WEIGHT = 3
HEADING_EXTRA = 1
REMARK_WEIGHT = 1
"""Weight of a word by field, in units of one in the body; whole numbers keep every weight exact.
Headings are part of the body, so theirs is extra. Chosen on two public collections."""

TITLE_END = 64
"""Positions below are in the title."""
FIELD_GAP = 8
LAST_POSITION = 65_000
EXACT = "\x01"
"""First character of every key that is more than a word."""
NOWHERE = b"\0\0"
"""Positions of such a key: the index drops postings without any."""
MOST_WEIGHT = 0xFFFF
"""The most that a word can weigh in one note."""
LINK_TARGET = re.compile(r"\]\([^)\s]*(?:\s+\"[^\"]*\")?\)")


@record(frozen=True, kw_only=True)
class Page:
    """One note as the index sees it; `line` is the line of the file on which the body begins."""

    id: NoteId
    path: str
    title: str
    concepts: tuple[str, ...]
    headings: tuple[str, ...]
    body: str
    remarks: tuple[str, ...]
    line: int = 1


def exact(kind: str, keys: Iterable[str]) -> str:
    """The key of more than a word: `kind` is `t` for a whole title, `c` for a whole concept, `w`
    for a word of the title, `p` for a path.
    """
    return f"{EXACT}{kind} " + " ".join(keys)


def entries(page: Page, seen: set[str] | None = None) -> tuple[dict[str, tuple[int, bytes]], int]:
    """Keys of a page with weight and positions, and the page's weighted length.

    Keys made by `exact` do not count towards the length. The words as written are added to
    `seen`, if given.
    """
    body = page.body
    found: dict[str, list[int]] = {}
    extra: dict[str, int] = {}
    whole: list[str] = []

    def add(text: str, at: int, weight: int, last: int = LAST_POSITION) -> int:
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

    add(page.title, 0, TITLE_WEIGHT, TITLE_END - 1)
    whole.append(exact("t", _names(page.title)))
    whole.extend(exact("w", (name,)) for name in found)
    whole.append(exact("p", (page.path,)))
    at = TITLE_END + FIELD_GAP
    for concept in page.concepts:
        at = add(concept, at, CONCEPT_WEIGHT) + FIELD_GAP
        whole.append(exact("c", _names(concept)))
    at = add(LINK_TARGET.sub("]", body) if "](" in body else body, at, 1) + FIELD_GAP
    for remark in page.remarks:
        at = add(remark, min(at, LAST_POSITION), REMARK_WEIGHT) + FIELD_GAP
    for heading in page.headings:
        for name in _names(heading):
            if name in found:
                extra[name] = extra.get(name, 0) + HEADING_EXTRA
    return _packed(found, extra, whole)


def _packed(
    found: Mapping[str, list[int]], extra: Mapping[str, int], whole: Iterable[str]
) -> tuple[dict[str, tuple[int, bytes]], int]:
    result: dict[str, tuple[int, bytes]] = {}
    length = 0
    for name, places in found.items():
        weight = len(places) + extra.get(name, 0)
        length += weight
        result[name] = (min(weight, MOST_WEIGHT), array("H", places).tobytes())
    for name in whole:
        result[name] = (1, NOWHERE)
    return result, length


def pack_words(found: Mapping[str, tuple[int, bytes]]) -> bytes:
    """The words among the keys of `entries`, one a line, and their weights."""
    held = {name: weight for name, (weight, _) in found.items() if name[0] != EXACT}
    weights = array("H", held.values())
    return "\n".join(held).encode() + b"\0" + weights.tobytes()


def unpack_words(packed: bytes) -> dict[str, int]:
    """Words and weights as `pack_words` packed them."""
    names, _, weights = packed.partition(b"\0")
    return dict(zip(names.decode().split("\n"), array("H", weights), strict=True)) if names else {}


def _names(text: str) -> list[str]:
    return [name for name in map(key, words(text)) if name]


def surface(seen: Iterable[str]) -> set[str]:
    """The words that can be looked for, in lower case and without a genitive 's."""
    bare = (word.lower().removesuffix("'s") for word in seen)
    return {word for word in bare if len(word) > 2 and word[0].isalpha() and key(word)}
