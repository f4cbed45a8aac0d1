"""The passage of a text that answers a query best, with the words that matched marked."""

import re
from collections.abc import Mapping, Sequence
from itertools import accumulate

from kb.language.normalise import key, spans

LENGTH = 220
"""Characters of a passage: three lines of a terminal."""
AGAIN_FRACTION = 0.1
"""What a word that is in the passage already adds, against its first time."""
MARKUP = re.compile(
    r"[\]\n*`\[ \t|](?:"  # one of these leads every mark, which is quick to look for
    r"(?<=\])(?:\([^)\s]*(?:\s+\"[^\"]*\")?\))?"  # the end of a link, with its target
    r"|(?<=\n)[ \t]*(?:(?:#{1,6}|>|[-*+]|\d+[.)])[ \t]+|\|[-: |]+\|[ \t]*$)"
    r"|(?<=[*`\[])[*`\[]*|(?<=[ \t])#+$"
    r"|(?<=[ \t])[ \t]*\|[ \t]*|(?<=\|)[ \t]*)",  # the bars of a table
    re.MULTILINE,
)
"""What of Markdown is not read, in a text with a line break in front of it: of marks at the
beginning of a line the break before it is a part."""
SPACE = re.compile(r"\s+")
PARTS = re.compile(r"([0-9]+\.[0-9]+|[A-Za-z0-9]+(?:'[A-Za-z]+)?)")
"""`AS_WRITTEN` for a text in ASCII."""
SENTENCE_END = re.compile(r"[.;:!?]\s|\n")

Pieces = tuple[tuple[str, bool], ...]
Sequences = tuple[tuple[tuple[str, int], ...], ...]


def readable(text: str) -> str:
    """A note's body without marks of Markdown, line by line as it was."""
    return MARKUP.sub(_plain, f"\n{text}")[1:]


def _plain(match: re.Match[str]) -> str:
    """Cells of a table are parted by white space; any other mark goes."""
    mark = match[0]
    gap = "  " if "|" in mark else ""
    return f"\n{gap}" if mark[0] == "\n" else gap


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
    starts, ends, names = _words(text)
    if not names:
        return (), 0
    weights = _weights(names, worth, sequences)
    first, last = _window(starts, ends, names, weights)
    earlier = [starts[at] for at in range(first) if names[at]]
    start, end = _bounds(text, earlier, (starts[first], ends[last]))
    pieces: list[tuple[str, bool]] = []
    at = start
    for number, weight in sorted(weights.items()):
        begin, stop = starts[number], ends[number]
        if weight and begin >= start and stop <= end:
            pieces += [(text[at:begin], False), (text[begin:stop], True)]
            at = stop
    pieces.append((text[at:end], False))
    if text[:start].strip():
        pieces.insert(0, ("\u2026 ", False))
    if text[end:].strip():
        pieces.append((" \u2026", False))
    return _joined(pieces), text.count("\n", 0, start) + 1


def _words(text: str) -> tuple[Sequence[int], Sequence[int], Sequence[str]]:
    """Where every word begins and ends, and its key; stop words are there with no key."""
    if not text.isascii():
        found = spans(text)
        return [s for s, _, _ in found], [e for _, e, _ in found], [name for _, _, name in found]
    pieces = PARTS.split(text)  # what is between words, and words, in turn
    names = [key(word) for word in pieces[1::2]]
    if not any(names):
        return (), (), ()
    places = list(accumulate(map(len, pieces)))
    return places[:-1:2], places[1::2], names


def _weights(
    names: Sequence[str], worth: Mapping[str, float], sequences: Sequences
) -> dict[int, float]:
    """What words are worth, by number; those worth nothing are left out."""
    weights = {at: worth[name] for at, name in enumerate(names) if name in worth}
    if not sequences:
        return weights
    named = [(at, name) for at, name in enumerate(names) if name]
    for sequence in sequences:
        wanted = [name for name, _ in sequence]
        for first in range(len(named) - len(wanted) + 1):
            here = named[first : first + len(wanted)]
            if [name for _, name in here] == wanted:
                for at, _ in here:
                    weights[at] = max(weights.get(at, 0.0), 1.0)
    return weights


def _window(
    starts: Sequence[int],
    ends: Sequence[int],
    names: Sequence[str],
    weights: Mapping[int, float],
) -> tuple[int, int]:
    """First and last word of the window worth most; of equal ones the first."""
    heavy = [at for at in sorted(weights) if weights[at]]
    if not heavy:
        first_said = next(at for at, name in enumerate(names) if name)
        return first_said, first_said
    inside: dict[str, int] = {}
    best, best_worth = (heavy[0], heavy[0]), 0.0
    first, total = 0, 0.0
    for last, at in enumerate(heavy):
        name, end = names[at], ends[at]
        total += weights[at] * (AGAIN_FRACTION if inside.get(name) else 1.0)
        inside[name] = inside.get(name, 0) + 1
        while first < last and end - starts[heavy[first]] > LENGTH:
            left = names[heavy[first]]
            inside[left] -= 1
            total -= weights[heavy[first]] * (AGAIN_FRACTION if inside[left] else 1.0)
            first += 1
        if total > best_worth + 1e-9:
            best, best_worth = (heavy[first], at), total
    return best


def _bounds(text: str, earlier: Sequence[int], window: tuple[int, int]) -> tuple[int, int]:
    """Widen a window to the length of a passage, beginning a sentence where one is near."""
    begin, end = window
    spare = LENGTH - (end - begin)
    earliest = max(0, begin - max(0, spare))
    ends = [m.end() for m in SENTENCE_END.finditer(text, earliest, begin)]
    if earliest == 0:
        start = 0
    elif ends:
        start = ends[-1]
    else:
        start = begin
        for place in reversed(earlier):
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
    clean = [(text if marked else SPACE.sub(" ", text), marked) for text, marked in pieces]
    clean = [piece for piece in clean if piece[0]]
    if clean:
        clean[0] = (clean[0][0].lstrip(), clean[0][1])
        clean[-1] = (clean[-1][0].rstrip(), clean[-1][1])
    return tuple(piece for piece in clean if piece[0])
