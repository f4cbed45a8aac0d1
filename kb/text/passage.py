"""The passage of a text that answers a query best, with the words that matched marked."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from kb.text.english import spans

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

LENGTH = 220
"""Characters of a passage: three lines of a terminal."""
AGAIN_FRACTION = 0.1
"""What a word that is in the passage already adds, against its first time."""
MARKUP = re.compile(
    r"\]\([^)\s]*(?:\s+\"[^\"]*\")?\)"  # the target of a link
    r"|^[ \t]*(?:#{1,6}|>|[-*+]|\d+[.)])[ \t]+|[*`\[]+|[ \t]#+$|\]"
    r"|^[ \t]*\|[-: |]+\|[ \t]*$|[ \t]*\|[ \t]*",  # the rule and the bars of a table
    re.MULTILINE,
)
SENTENCE_END = re.compile(r"[.;:!?]\s|\n")

Pieces = tuple[tuple[str, bool], ...]
Sequences = tuple[tuple[tuple[str, int], ...], ...]


def readable(text: str) -> str:
    """A note's body without marks of Markdown, line by line as it was."""
    return MARKUP.sub(_plain, text)


def _plain(match: re.Match[str]) -> str:
    """Cells of a table are parted by white space; any other mark goes."""
    return "  " if "|" in match.group() else ""


def best_passage(
    body: str, worth: Mapping[str, float], sequences: Sequences = ()
) -> tuple[Pieces, int]:
    """The best passage of a note's body.

    Args:
        body: Markdown.
        worth: What each key of a single word that is looked for is worth.
        sequences: Phrases looked for, as (key, distance from the first) in order; their words
            are marked only where they stand together.

    Returns:
        The passage in pieces (text, whether it matched), and the line of the body it begins on,
        counted from 1. No word is cut. Nothing matched: the beginning of the body.
    """
    text = readable(body)
    found = spans(text)
    if not found:
        return (), 0
    weights = _weights(found, worth, sequences)
    first, last = _window(found, weights)
    start, end = _bounds(text, found, first, last)
    pieces: list[tuple[str, bool]] = []
    at = start
    for (begin, stop, _), weight in zip(found, weights, strict=True):
        if weight and begin >= start and stop <= end:
            pieces += [(text[at:begin], False), (text[begin:stop], True)]
            at = stop
    pieces.append((text[at:end], False))
    if text[:start].strip():
        pieces.insert(0, ("\u2026 ", False))
    if text[end:].strip():
        pieces.append((" \u2026", False))
    return _joined(pieces), text.count("\n", 0, start) + 1


def _weights(
    found: Sequence[tuple[int, int, str]], worth: Mapping[str, float], sequences: Sequences
) -> list[float]:
    names = [name for _, _, name in found]
    weights = [worth.get(name, 0.0) for name in names]
    for sequence in sequences:
        wanted = [name for name, _ in sequence]
        for at in range(len(names) - len(wanted) + 1):
            if names[at : at + len(wanted)] == wanted:
                for place in range(at, at + len(wanted)):
                    weights[place] = max(weights[place], 1.0)
    return weights


def _window(found: Sequence[tuple[int, int, str]], weights: Sequence[float]) -> tuple[int, int]:
    """First and last word of the window worth most; of equal ones the first."""
    inside: dict[str, int] = {}
    best, best_worth = (0, 0), 0.0
    first, total = 0, 0.0
    for last, (_, end, name) in enumerate(found):
        if weights[last]:
            total += weights[last] * (AGAIN_FRACTION if inside.get(name) else 1.0)
            inside[name] = inside.get(name, 0) + 1
        while first < last and (end - found[first][0] > LENGTH or not weights[first]):
            if weights[first]:
                left = found[first][2]
                inside[left] -= 1
                total -= weights[first] * (AGAIN_FRACTION if inside[left] else 1.0)
            first += 1
        if weights[last] and total > best_worth + 1e-9:
            best, best_worth = (first, last), total
    return best


def _bounds(
    text: str, found: Sequence[tuple[int, int, str]], first: int, last: int
) -> tuple[int, int]:
    """Widen a window to the length of a passage, beginning a sentence where one is near."""
    begin, end = found[first][0], found[last][1]
    spare = LENGTH - (end - begin)
    earliest = max(0, begin - max(0, spare))
    ends = [m.end() for m in SENTENCE_END.finditer(text, earliest, begin)]
    if earliest == 0:
        start = 0
    elif ends:
        start = ends[-1]
    else:
        start = begin
        for place, _, _ in reversed(found[:first]):
            if begin - place > spare / 2:
                break
            start = place
    limit = min(len(text), max(start + LENGTH, end))
    stop = limit
    if limit < len(text):
        while stop > end and not (text[stop].isspace() and not text[stop - 1].isspace()):
            stop -= 1
        stop = max(stop, end)
        while stop < len(text) and not text[stop].isspace() and stop == end:
            if text[stop].isalnum():
                break
            stop += 1
    return start, stop


def _joined(pieces: Sequence[tuple[str, bool]]) -> Pieces:
    """White space made single, empty pieces left out, and the ends stripped."""
    clean = [(re.sub(r"\s+", " ", text), marked) for text, marked in pieces]
    clean = [piece for piece in clean if piece[0]]
    if clean:
        clean[0] = (clean[0][0].lstrip(), clean[0][1])
        clean[-1] = (clean[-1][0].rstrip(), clean[-1][1])
    return tuple(piece for piece in clean if piece[0])
