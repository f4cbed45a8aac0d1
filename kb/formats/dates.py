"""Days and moments as our files have them, ISO 8601 and in no other way; and days as typed."""

import re
from collections.abc import Iterable
from datetime import date, datetime, time

YEARS = (1990, 2200)
"""A day outside these years is a slip; near the ends of the calendar no plan could be made."""
DAY = re.compile(r"\d{4}-\d{2}-\d{2}")
MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)


def parse_day(text: str) -> date:
    """A day written 2027-05-11 and in no other way, in one of `YEARS`.

    Raises:
        ValueError: It is something else, or no such day exists.
    """
    if not DAY.fullmatch(text) or not YEARS[0] <= int(text[:4]) <= YEARS[1]:
        raise ValueError(text)
    return date.fromisoformat(text)


def parse_clock(text: str) -> time:
    """A time of day, which has no offset: the clock is the person's own. 24:00 is 00:00.

    Raises:
        ValueError: It is something else.
    """
    found = time.fromisoformat("00:00" if text == "24:00" else text)
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


def month_of(word: str) -> int:
    """The number of a month by its English name, or at least its first three letters; 0 if none."""
    names = [n for n, name in enumerate(MONTHS, start=1) if name.startswith(word.casefold())]
    return names[0] if len(names) == 1 and len(word) >= 3 else 0


def find_date(
    text: str, patterns: Iterable[re.Pattern[str]], day_first: bool
) -> tuple[int | None, int, int, str] | None:
    """A date at the beginning of a text, which may not exist: (year, month, day, what follows).

    The patterns have groups `day` and `month`, a number or the name of one, or `one` and `two` if
    the order decides; and `year`, where it is given. Of two digits it is in this century.
    """
    for match in (found for pattern in patterns if (found := pattern.match(text))):
        part = match.groupdict()
        if "one" in part:
            part["day"], part["month"] = (part["one"], part["two"])[:: 1 if day_first else -1]
        month = int(part["month"]) if part["month"].isdigit() else month_of(part["month"])
        if month or part["month"].isdigit():
            year = int(part["year"]) + 2000 * (len(part["year"]) == 2) if part["year"] else None
            return year, month, int(part["day"]), text[match.end() :]
    return None
