"""The computer's medical word list, where there is one: Debian's hunspell-en-med.

It only helps with spelling, and only where a word finds nothing; all works without it.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

from kb.language.spelling import read_dictionary

PLACES = (
    "/usr/share/hunspell/en_med_glut.dic",
    "/usr/share/myspell/dicts/en_med_glut.dic",
    "/Library/Spelling/en_med_glut.dic",
)


@cache
def _text() -> str:
    for place in PLACES:
        try:
            return Path(place).read_text(encoding="utf-8", errors="replace")
        except OSError:
            continue
    return ""


def in_dictionary(word: str) -> bool:
    """Whether the list has a word, in small letters, just so."""
    text = _text()
    return f"\n{word}\n" in text or f"\n{word}/" in text


@cache
def dictionary() -> frozenset[str]:
    """All its words in small letters; none where there is no list."""
    return read_dictionary(_text())
