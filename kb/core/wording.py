"""Wording that every message, page and report shares: the caution, counts, days and lists."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date


CAUTION = (
    "Revision notes for an exam, not for patient care: follow current local guidelines, the"
    " formulary and your own judgement as a licensed doctor. Never record anything that identifies"
    " a patient."
)
"""What every page, print and export shows first."""

NOT_FOR_CARE = "For the exam, not for care."
"""The same in a line, beside the text of notes."""


UNSEEN = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
"""Controls of a terminal, and of the direction of text: a file from elsewhere could hide or forge
lines with them. Tabs and line feeds are none."""
OF_PAGE = re.compile(
    rf"<(textarea|script|style)\b.*?</\1>|<[^>]*>|\r\n|(?P<unseen>{UNSEEN.pattern})", re.S
)


def visible(text: str) -> str:
    """The text with such controls shown as escapes, which mean the same in JSON."""
    if not UNSEEN.search(text):
        return text
    return UNSEEN.sub(lambda match: f"\\u{ord(match[0]):04x}", text.replace("\r\n", "\n"))


def visible_html(html: str) -> str:
    """The same for the text of a page; its tags, scripts and fields to edit stay as they are."""
    return OF_PAGE.sub(lambda match: visible(match[0]) if match["unseen"] else match[0], html)


def counted(number: int, one: str, many: str = "") -> str:
    """`1 note`, `2 notes`; of `many` where an s is not enough: `1 miss has`, `2 misses have`."""
    return f"{number:,} {one if number == 1 else many or f'{one}s'}"


def often(number: int) -> str:
    """`once`, `twice`, `3 times`."""
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


NUMBERS = ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")


def in_words(number: int) -> str:
    """`three`; figures from 11 on."""
    return NUMBERS[number - 1] if 1 <= number <= len(NUMBERS) else str(number)


def short_day(day: date) -> str:
    """`5 Apr`."""
    return f"{day.day} {day:%b}"


def dated(day: date, year: int | None = None) -> str:
    """`5 Apr 2027`; without the year, `5 Apr`, when it is `year`."""
    return short_day(day) if day.year == year else f"{short_day(day)} {day:%Y}"


def listed(words: Sequence[str], joined: str = "and") -> str:
    """`a`, `a and b`, `a, b and c`; joined by another word if one is given."""
    first, last = words[:-1], words[-1:]
    return f" {joined} ".join((*((", ".join(first),) if first else ()), *last))


def ended(text: str) -> str:
    """The text with a full stop at the end, unless it ends a sentence already."""
    return text if text.endswith((".", "?", "!", ":")) else f"{text}."


def capital(text: str) -> str:
    """The text with a capital at its start; `pH`, `eGFR`, `north:12` and `a/b.md` stay as they
    are.
    """
    first = text.split(" ", 1)[0]
    written_so = first != first.lower() or ":" in first.rstrip(":") or "/" in first
    return text if written_so else text[:1].upper() + text[1:]
