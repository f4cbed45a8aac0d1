"""A rota from an iCalendar file (RFC 5545): events by their words become shifts by their day."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, NamedTuple
from zoneinfo import ZoneInfo

from kb.core.errors import FormatError, Place, Problem, nearest

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from kb.core.settings import Shift

MOMENT = re.compile(r"\d{8}(?:T\d{6}Z?)?")
DATED = ("DTSTART", "DTEND", "RECURRENCE-ID", "EXDATE", "RDATE")
FREQUENCIES = ("DAILY", "WEEKLY", "MONTHLY", "YEARLY")
YEARS = range(1900, 2201)
"""Of an event: a birthday may lie far back, but an endless span would never be walked through."""
UNREADABLE = (ValueError, LookupError, AttributeError, TypeError, OverflowError, OSError)
"""What the library raises for a file that is not a calendar; OSError for a time zone `Europe`."""
EXPORT = "export the rota from your calendar again, as an .ics file"


@dataclass(frozen=True, slots=True, kw_only=True)
class RotaEvent:
    """One event on one day. `start` and `end` are None for an all-day event."""

    day: date
    words: str
    start: time | None = None
    end: time | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarShifts:
    """Days with their shift, the words that meant each shift, and what was not understood."""

    days: tuple[tuple[date, str], ...]
    words: tuple[tuple[str, str], ...]
    problems: tuple[Problem, ...]


def read_events(
    raw: bytes, path: str, *, zone: str, first: date, last: date
) -> tuple[RotaEvent, ...]:
    """Every event of an iCalendar file that begins from `first` to `last`, repeats included.

    An all-day event over several days gives one for each of them; its end is not included.

    Raises:
        FormatError: It is not an iCalendar file.
    """
    import recurring_ical_events
    from icalendar import Calendar

    if _impossible(raw) is not None:
        raise _refused(raw, path)
    found = []
    try:
        calendars = Calendar.from_ical(raw.removeprefix(codecs.BOM_UTF8), multiple=True)
        for calendar in calendars:
            found += recurring_ical_events.of(calendar).between(first, last + timedelta(days=1))
    except UNREADABLE as error:
        raise _refused(raw, path) from error
    if not calendars:
        raise _refused(raw, path)
    events: set[RotaEvent] = set()
    for event in found:
        words = " ".join(str(event.get("SUMMARY", "")).split())
        start, end = event["DTSTART"].dt, event["DTEND"].dt if "DTEND" in event else None
        events.update(_days(words, start, end, ZoneInfo(zone)))
    inside = (event for event in events if first <= event.day <= last)
    return tuple(sorted(inside, key=lambda e: (e.day, e.start or time(), e.words)))


def _refused(raw: bytes, path: str) -> FormatError:
    fault = fault_of(raw)
    return FormatError(fault.message, place=Place(path, fault.line), hint=fault.hint)


def _days(
    words: str, start: date | datetime, end: date | datetime | None, zone: ZoneInfo
) -> list[RotaEvent]:
    if isinstance(start, datetime):
        begins = start.astimezone(zone) if start.tzinfo else start.replace(tzinfo=zone)
        ends = end if isinstance(end, datetime) else begins
        ends = ends.astimezone(zone) if ends.tzinfo else ends.replace(tzinfo=zone)
        return [
            RotaEvent(
                day=begins.date(),
                words=words,
                start=begins.time().replace(tzinfo=None),
                end=ends.time().replace(tzinfo=None),
            )
        ]
    count = max(1, (end - start).days) if end is not None else 1
    return [RotaEvent(day=start + timedelta(days=i), words=words) for i in range(count)]


def shifts_of(
    events: tuple[RotaEvent, ...],
    path: str,
    shifts: tuple[Shift, ...],
    remembered: Mapping[str, str],
) -> CalendarShifts:
    """Give each day its shift.

    An event is a shift if its words were given for one before, or hold a shift's name, or if its
    hours are those of a shift, in this order. Words that match no shift become Problems. Of two
    events on one day the longer duty counts.

    Args:
        events: As `read_events` gives them.
        path: The file, for places.
        shifts: The shifts that are known.
        remembered: Shift name by words, in small letters.
    """
    chosen: dict[date, tuple[float, str]] = {}
    words: dict[str, str] = {}
    unknown: dict[str, date] = {}
    for event in events:
        name = _shift_for(event, shifts, remembered)
        if name is None:
            unknown.setdefault(event.words, event.day)
            continue
        words[event.words.casefold()] = name
        shift = next(shift for shift in shifts if shift.name == name)
        rank = _length(shift)
        if event.day not in chosen or rank > chosen[event.day][0]:
            chosen[event.day] = (rank, name)
    problems = []
    for event_words, day in unknown.items():
        hint = nearest(event_words, [shift.name for shift in shifts])
        hint = f'say which shift it is: --word "{event_words}=night"' + (
            f" ({hint})" if hint else ""
        )
        message = f"not recognised as a shift: '{event_words}' on {day.isoformat()}; left out"
        if not event_words:
            message = f"an event on {day.isoformat()} has no words (SUMMARY); left out"
            hint = "name it in your calendar, and export it again"
        problems.append(
            Problem(
                place=Place(path),
                code="unknown-event",
                message=message,
                hint=hint,
                severity="warning",
            )
        )
    return CalendarShifts(
        days=tuple((day, name) for day, (_, name) in sorted(chosen.items())),
        words=tuple(sorted(words.items())),
        problems=tuple(problems),
    )


def _shift_for(
    event: RotaEvent, shifts: tuple[Shift, ...], remembered: Mapping[str, str]
) -> str | None:
    event_words = event.words.casefold()
    names = {shift.name for shift in shifts}
    for words in sorted(remembered, key=len, reverse=True):
        if remembered[words] in names and _holds(event_words, words):
            return remembered[words]
    named = [name for name in sorted(names, key=len, reverse=True) if _holds(event_words, name)]
    if named:
        return named[0]
    if event.start is not None:
        for shift in shifts:
            if (shift.start, shift.end) == (event.start, event.end):
                return shift.name
    return None


def _holds(text: str, words: str) -> bool:
    """Whether `text` has these whole words; a plural s is forgiven."""
    return re.search(rf"(?<!\w){re.escape(words)}s?(?!\w)", text) is not None


def _length(shift: Shift) -> float:
    if shift.start is None or shift.end is None:
        return 0.0
    minutes = (shift.end.hour - shift.start.hour) * 60 + shift.end.minute - shift.start.minute
    return float(minutes if minutes > 0 else minutes + 1440)


class Fault(NamedTuple):
    """What is wrong, on which line (0 for the file as a whole), and how to put it right."""

    message: str
    line: int
    hint: str = EXPORT


def fault_of(raw: bytes) -> Fault:
    """The first thing wrong with a file that the library could not read as a calendar."""
    impossible = _impossible(raw)
    if impossible is not None:
        return impossible
    text = raw.decode("utf-8-sig", errors="replace")
    if not text.strip():
        return Fault("the file is empty", 0)
    if "BEGIN:VCALENDAR" not in text.upper() and "BEGIN:VEVENT" not in text.upper():
        return Fault("this is not an iCalendar file: it has no line BEGIN:VCALENDAR", 1)
    open_parts: list[tuple[str, int]] = []
    started = False
    for number, line in _unfolded(text):
        name, colon, value = line.partition(":")
        name, _, _ = name.upper().partition(";")
        part = value.strip().upper()
        if not colon:
            return Fault("this line has no colon, so it is not of an iCalendar file", number)
        if name == "BEGIN":
            open_parts.append((part, number))
            started = False
        elif name == "END":
            if not open_parts or open_parts[-1][0] != part:
                return Fault(f"{part} ends here, but was not begun", number)
            _, begun = open_parts.pop()
            if part == "VEVENT" and not started:
                return Fault("the event that begins here has no start (DTSTART)", begun)
        else:
            started = started or name == "DTSTART"
            found = _fault_in(name, value, number)
            if found is not None:
                return found
    if open_parts:
        part, begun = open_parts[-1]
        return Fault(f"the file is cut off: {part} begins here and has no end", begun)
    return Fault("the calendar cannot be read", 0)


def _impossible(raw: bytes) -> Fault | None:
    """The first event that no rota has and that would keep the library busy without end."""
    inside = False
    for number, line in _unfolded(raw.decode("utf-8-sig", errors="replace")):
        name, _, value = line.upper().partition(":")
        name = name.partition(";")[0]
        if name in ("BEGIN", "END") and value.strip() == "VEVENT":
            inside = name == "BEGIN"
        elif inside and name in ("DTSTART", "DTEND"):
            year = re.match(r"\s*(\d{4})\d{4}", value)
            if year and int(year[1]) not in YEARS:
                hint = "take the event out of your calendar, and export it again"
                return Fault(f"{name}: the year {year[1]} is in no rota", number, hint)
        elif inside and name == "RRULE":
            found = _repeat(value, number)
            if found is not None:
                return found
    return None


def _repeat(value: str, line: int) -> Fault | None:
    parts = dict(part.upper().partition("=")[::2] for part in value.strip().split(";"))
    every = parts.get("INTERVAL", "1")
    if parts.get("FREQ") in FREQUENCIES and every.isdecimal() and int(every[:9]) > 0:
        return None
    hint = "enter the repeat again in your calendar, and export it again"
    return Fault(f"how the event repeats is not understood: '{value[:40]}'", line, hint)


def _fault_in(name: str, value: str, line: int) -> Fault | None:
    if name in DATED and not all(MOMENT.match(one) for one in value.strip().split(",")):
        hint = "write it as 20270407, or 20270407T210000"
        return Fault(f"{name}: '{value.strip()[:30]}' is not a date of a calendar", line, hint)
    return _repeat(value, line) if name == "RRULE" else None


def _unfolded(text: str) -> Iterator[tuple[int, str]]:
    """Content lines with the number of the line on which each begins; empty ones are left out."""
    found: list[tuple[int, str]] = []
    for number, line in enumerate(re.split(r"\r\n|\n|\r", text), start=1):
        if line[:1] in (" ", "\t") and found:
            begun, before = found[-1]
            found[-1] = (begun, before + line[1:])
        elif line.strip():
            found.append((number, line))
    yield from found
