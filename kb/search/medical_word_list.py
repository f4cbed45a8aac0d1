"""The system's medical word list, if there is one: Debian's hunspell-en-med.

A word in it is no slip. Everything works without it.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path

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
    """Whether the list has exactly this word, in small letters."""
    text = _text()
    return f"\n{word}\n" in text or f"\n{word}/" in text
