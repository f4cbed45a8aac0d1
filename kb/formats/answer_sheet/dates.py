"""Dates as they are typed on a sheet: 14 Jan, Jan 14, 14/1, 14.1.27, 2027-01-14."""

import re
from datetime import date

from kb.formats.answer_sheet.records import Known, NotUnderstoodError
from kb.formats.attempt_log import EARLIEST_YEAR

MONTHS = (
    *("january", "february", "march", "april", "may", "june"),
    *("july", "august", "september", "october", "november", "december"),
)
DAY_MONTH = re.compile(
    r"(\d{1,2})(?:st|nd|rd|th)?[ .-]?\s?([a-z]{3,9})\.?(?:,? (\d{4}))?(?!\w)", re.I
)
MONTH_DAY = re.compile(r"([a-z]{3,9})\.? (\d{1,2})(?:st|nd|rd|th)?(?:,? (\d{4}))?(?!\w)", re.I)
NUMBERS = re.compile(r"(\d{1,2})[./](\d{1,2})(?:[./](\d{4}|\d{2}))?(?![\w/])")
ISO = re.compile(r"(\d{4})-(\d{1,2})-(\d{1,2})(?!\w)")


def begins_with_day(line: str) -> bool:
    """Whether a line begins like a date, even one that does not exist."""
    dated = (ISO, NUMBERS, DAY_MONTH, MONTH_DAY)
    return any(_is_month(match) for pattern in dated if (match := pattern.match(line)))


def _is_month(match: re.Match[str]) -> bool:
    word = next((group for group in match.groups() if group and group.isalpha()), "")
    return not word or _month(word) > 0


def _month(word: str) -> int:
    """Number of a month by its name or at least its first three letters; 0 if it is none."""
    names = [n for n, name in enumerate(MONTHS, start=1) if name.startswith(word.casefold())]
    return names[0] if len(names) == 1 and len(word) >= 3 else 0


def take_day(line: str, known: Known) -> tuple[date | None, str]:
    """A date at the beginning of a line, and the rest of it."""
    match = ISO.match(line)
    if match:
        return _day(int(match[1]), int(match[2]), int(match[3]), known), line[match.end() :]
    for pattern, day_at, month_at in ((DAY_MONTH, 1, 2), (MONTH_DAY, 2, 1)):
        match = pattern.match(line)
        if match and (month := _month(match[month_at])):
            day = _completed(match[3], month, int(match[day_at]), known)
            return day, line[match.end() :]
    match = NUMBERS.match(line)
    if match:
        one, two = int(match[1]), int(match[2])
        month, number = (two, one) if known.day_first else (one, two)
        return _completed(match[3], month, number, known), line[match.end() :]
    return None, line


def day_or_none(line: str, known: Known) -> date | None:
    """The date at the beginning of a line, if it is one."""
    try:
        return take_day(line, known)[0]
    except NotUnderstoodError:
        return None


def _completed(year: str | None, month: int, number: int, known: Known) -> date:
    """A date without a year is the latest such day that is not after the sheet's own day."""
    if year:
        return _day(int(year) + (2000 if len(year) == 2 else 0), month, number, known)
    found = _day(known.day.year, month, number, known, check=False)
    return found if found <= known.day else _day(known.day.year - 1, month, number, known)


def _day(year: int, month: int, number: int, known: Known, *, check: bool = True) -> date:
    try:
        found = date(year, month, number)
    except ValueError as error:
        hint = "write it as 14 Jan or 2027-01-14"
        raise NotUnderstoodError(f"{year}-{month:02}-{number:02} is not a date", hint) from error
    if year < EARLIEST_YEAR:
        raise NotUnderstoodError(f"{found.isoformat()} is too long ago", "correct the year")
    if check and known.today is not None and found > known.today:
        hint = "answers are logged when they were given"
        raise NotUnderstoodError(f"{found.isoformat()} is in the future", hint)
    return found
