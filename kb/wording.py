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


def dated(day: date, year: int | None = None) -> str:
    """`5 Apr 2027`; without the year, `5 Apr`, when it is `year`."""
    return f"{day.day} {day:%b}" if day.year == year else f"{day.day} {day:%b %Y}"
