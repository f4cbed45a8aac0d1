"""How counts are said, so that messages and reports of every ring say them one way."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date


def counted(number: int, word: str) -> str:
    """`1 note`, `2 notes`."""
    return f"{number} {word}{'' if number == 1 else 's'}"


def often(number: int) -> str:
    """`once`, `twice`, `3 times`."""
    return {1: "once", 2: "twice"}.get(number, f"{number} times")


def short_day(day: date) -> str:
    """`5 Apr`."""
    return f"{day.day} {day:%b}"


def dated(day: date, year: int | None = None) -> str:
    """`5 Apr 2027`; without the year, `5 Apr`, when it is `year`."""
    return short_day(day) if day.year == year else f"{short_day(day)} {day:%Y}"
