"""The passage of a text that answers a query best, with the words that matched marked."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.text.english import spans

if TYPE_CHECKING:
    from collections.abc import Set as AbstractSet

LENGTH = 220
"""Characters of a passage: three lines of a terminal."""

Pieces = tuple[tuple[str, bool], ...]


def best_passage(text: str, wanted: AbstractSet[str]) -> tuple[Pieces, int]:
    """The best passage in pieces (text, whether it matched), and the line it begins on."""
    found = spans(text)
    if not found:
        return (), 0
    best, best_weight, first = 0, -1.0, 0
    for i, (_, end, _) in enumerate(found):
        while end - found[first][0] > LENGTH:
            first += 1
        inside = [t for _, _, t in found[first : i + 1] if t in wanted]
        weight = len(set(inside)) + 0.1 * len(inside)
        if weight > best_weight:
            best, best_weight = first, weight
    start = found[best][0]
    pieces: list[tuple[str, bool]] = []
    at = start
    last = start
    for begin, end, term in found[best:]:
        if end - start > LENGTH:
            break
        last = end
        if term in wanted:
            pieces += [(text[at:begin], False), (text[begin:end], True)]
            at = end
    pieces.append((text[at:last], False))
    shown = tuple((" ".join(p.split("\n")), hit) for p, hit in pieces if p)
    return shown, text.count("\n", 0, start) + 1
