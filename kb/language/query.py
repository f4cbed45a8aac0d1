"""A query as typed: plain words, "quoted phrases", and a leading minus to exclude.

Any other character is text: there is no syntax to trip over.
"""

import re
from collections.abc import Sequence
from typing import NamedTuple

PART = re.compile(r"""(?:(?<=\s)|^)(-?)(?:"([^"]*)"|([^\s"]+))|"([^"]*)"|([^\s"]+)""")
QUOTES = dict.fromkeys(map(ord, "\u201c\u201d\u201e\u00ab\u00bb"), '"')
MAXIMUM_LENGTH = 20_000
"""Characters looked at: some 3,000 words, more than any stem with its options."""
BETWEEN = frozenset(("vs", "versus", "or"))
"""Words between two names that are compared."""
COMPARED_WORDS = 10
"""In a longer query `or` can stand between anything."""
SENTENCE_WORDS = 12
"""Longer texts are sentences, in which a minus is a dash or a sign."""


class Query(NamedTuple):
    """What was asked: texts to look for, phrases that must be there, texts to leave out."""

    plain: str
    phrases: tuple[str, ...] = ()
    excluded: tuple[str, ...] = ()


def compared(typed: Sequence[str]) -> int:
    """The place of the word between two names that are compared: `PBC vs PSC`; 0 if there is none.

    >>> compared(["Crohn's", "or", "UC"]), compared(["or", "not"]), compared(["PBC"])
    (1, 0, 0)
    """
    places = [at for at, word in enumerate(typed) if word.lower() in BETWEEN]
    alone = len(places) == 1 and 0 < places[0] < len(typed) - 1 and len(typed) <= COMPARED_WORDS
    return places[0] if alone else 0


def parse_query(text: str) -> Query:
    """Part a query as typed. Never fails: what is not understood is a word.

    >>> parse_query('"tall T waves" potassium -hypokalaemia')
    Query(plain='potassium', phrases=('tall T waves',), excluded=('hypokalaemia',))
    """
    text = text[:MAXIMUM_LENGTH].translate(QUOTES)
    if "\u2212" in text or "\u2013" in text:
        text = re.sub(r"(?:(?<=\s)|^)[\u2212\u2013](?=\S)", "-", text)
    sentence = len(text.split()) > SENTENCE_WORDS
    plain: list[str] = []
    phrases: list[str] = []
    excluded: list[str] = []
    for minus, quoted, word, loose, rest in PART.findall(text):
        phrase, single = quoted or loose, word or rest
        if minus and not sentence and (phrase or single)[:1].isalpha():
            excluded.append(phrase or single)
        elif phrase.strip():
            phrases.append(phrase.strip())
        elif single:
            plain.append(minus + single)
    return Query(plain=" ".join(plain), phrases=tuple(phrases), excluded=tuple(excluded))
