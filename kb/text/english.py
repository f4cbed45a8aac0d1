"""Words of a note as search compares them: one term for all spellings and endings of a word."""

from __future__ import annotations

import re
from functools import lru_cache

import Stemmer

WORD = re.compile(r"[^\W_]+(?:['’][^\W_]+)*")

STOP = frozenset(
    "a an and are as at be but by for from had has have he her his i if in into is it its may no"
    " not of on or our she so such than that the their them then there these they this to was we"
    " were what when where which who why will with would you your".split()
)

_stemmer = Stemmer.Stemmer("english")


@lru_cache(maxsize=200_000)
def term(word: str) -> str:
    """The term of one word, empty for a word too common to search for."""
    folded = word.casefold().replace("’", "'").removesuffix("'s").replace("'", "")
    return "" if folded in STOP else _stemmer.stemWord(folded)


def spans(text: str) -> list[tuple[int, int, str]]:
    """Every word of a text with its start, its end and its term, in order."""
    return [(m.start(), m.end(), t) for m in WORD.finditer(text) if (t := term(m.group()))]


def terms(text: str) -> list[str]:
    """The terms of a text in order."""
    return [t for word in WORD.findall(text) if (t := term(word))]
