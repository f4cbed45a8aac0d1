"""Dates as they are typed on a sheet: 14 Jan, Jan 14, 14/1, 14.1.27, 2027-01-14."""

import re
from datetime import date

from kb.formats.answer_sheet.records import Known, NotUnderstoodError
from kb.formats.attempt_log import EARLIEST_YEAR
from kb.formats.dates import find_date

NTH, YEAR = r"(?P<day>\d{1,2})(?:st|nd|rd|th)?", r"(?:,? (?P<year>\d{4}))?(?!\w)"
NAME = r"(?P<month>[a-z]{3,9})\.?"
TYPED = (
    re.compile(r"(?P<year>\d{4})-(?P<month>\d{1,2})-(?P<day>\d{1,2})(?!\w)"),
    re.compile(rf"{NTH}[ .-]?\s?{NAME}{YEAR}", re.I),
    re.compile(rf"{NAME} {NTH}{YEAR}", re.I),
    re.compile(r"(?P<one>\d{1,2})[./](?P<two>\d{1,2})(?:[./](?P<year>\d{4}|\d{2}))?(?![\w/])"),
)


def take_day(line: str, known: Known) -> tuple[date | None, str]:
    """A date at the beginning of a line, and the rest of it.

    One without a year is the latest such day that is not after the sheet's own day.
    """
    found = find_date(line, TYPED, known.day_first)
    if found is None:
        return None, line
    year, month, number, rest = found
    if year:
        return _day(year, month, number, known), rest
    day = _day(known.day.year, month, number, known, check=False)
    return day if day <= known.day else _day(day.year - 1, month, number, known), rest


def day_or_none(line: str, known: Known) -> date | None:
    """The date at the beginning of a line, if it is one."""
    try:
        return take_day(line, known)[0]
    except NotUnderstoodError:
        return None


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
