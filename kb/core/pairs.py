"""Pairs of diagnoses taken for each other, as a remark or the title of a note names them."""

import re

from kb.core.model import Note

VERSUS = re.compile(
    r"^\W*(?P<one>[^;.]+?)\s*(?:\bvs\b\.?|\bv\b\.?|\bversus\b|\bnot\b|\bor\b|<>|≠|/)\s*"
    r"(?P<other>[^;.]+?)\W*(?:[;.].*)?$",
    re.I,
)
MOST_WORDS = 6

Pair = tuple[str, str]


def parse_pair(remark: str) -> Pair | None:
    """The two diagnoses that a remark names, as written, in alphabetical order; or None.

    Each has at most six words; `a vs b`, `a v b`, `a or b`, `a not b` and `a/b` are understood.
    """
    match = VERSUS.match(remark.strip())
    if match is None:
        return None
    pair = ordered_pair(_clean(match["one"]), _clean(match["other"]))
    if not all(pair) or pair[0].casefold() == pair[1].casefold():
        return None
    if any(len(name.split()) > MOST_WORDS for name in pair):
        return None
    return pair


def _clean(name: str) -> str:
    return " ".join(name.strip(" ,:-").split())


def ordered_pair(one: str, other: str) -> Pair:
    """The two names in alphabetical order, whatever their case."""
    first, second = sorted((one, other), key=str.casefold)
    return first, second


def compared_in(note: Note) -> Pair | None:
    """The two things that a note compares by its title (`PBC or PSC?`), or None.

    Two of its concepts must be these two, for not every `or` in a title compares; they are spelled
    as there.
    """
    pair = parse_pair(note.title.rpartition(":")[2])
    if pair is None:
        return None
    names = [set(name.casefold().split()) for name in pair]
    one, other = ([c for c in note.concepts if n <= set(c.casefold().split())] for n in names)
    if not one or not other or one[0] == other[0]:
        return None
    return ordered_pair(one[0], other[0])
