"""Days and moments as our files have them: ISO 8601 and in no other way."""

import re
from datetime import date, datetime, time

YEARS = (1990, 2200)
"""A day outside these years is a slip; near the ends of the calendar no plan could be made."""
DAY = re.compile(r"\d{4}-\d{2}-\d{2}")


def parse_day(text: str) -> date:
    """A day written 2027-05-11 and in no other way, in one of `YEARS`.

    Raises:
        ValueError: It is something else, or no such day exists.
    """
    if not DAY.fullmatch(text) or not YEARS[0] <= int(text[:4]) <= YEARS[1]:
        raise ValueError(text)
    return date.fromisoformat(text)


def parse_clock(text: str) -> time:
    """A time of day, which has no offset: the clock is the person's own.

    Raises:
        ValueError: It is something else.
    """
    found = time.fromisoformat(text)
    if found.tzinfo is not None:
        raise ValueError(text)
    return found


def parse_moment(text: str) -> tuple[date, datetime | None]:
    """A day, or a moment with its offset from UTC (ISO 8601).

    Raises:
        ValueError: It is neither, or the offset is missing.
    """
    if DAY.fullmatch(text):
        return date.fromisoformat(text), None
    moment = datetime.fromisoformat(text)
    if moment.utcoffset() is None:
        raise ValueError(text)
    return moment.date(), moment
