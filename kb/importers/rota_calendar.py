"""A rota from an iCalendar file (RFC 5545): events by their title and hours become shifts by day.

An event that cannot be read, or means no known shift, is named and left out; all others count.
"""

import math
import re
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

from kb.core.errors import FormatError, Place, Problem, nearest
from kb.core.settings import Shift
from kb.core.wording import counted
from kb.importers.rota_words import CANCELLED, clock_minutes, plain_title, shift_for

MOMENT = re.compile(r"\d{8}(?:T\d{6}Z?)?")
DATED = ("DTSTART", "DTEND", "RECURRENCE-ID", "EXDATE", "RDATE")
FREQUENCIES = ("DAILY", "WEEKLY", "MONTHLY", "YEARLY")
YEARS = range(1900, 2201)
"""Of an event: a birthday may lie far back, but an endless span would never be walked through."""
UNREADABLE = (ValueError, LookupError, AttributeError, TypeError, OverflowError, OSError)
"""What the library raises for an event that it cannot read; OSError for a time zone `Europe`."""
EXPORT = "export the rota from your calendar again, as an .ics file"
ENTER = "enter the event again in your calendar, and export it again"
LONGEST_STAY_DAYS = 366
LONGEST_TITLE = 200
"""Characters of a title that are looked at."""
MOST_EVENTS, MOST_SERIES = 5000, 700
"""Events in the days asked for, and events that repeat, in one file: a few seconds of work."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RotaEvent:
    """One event on one day. `hours` are its start and end by the clock; None if it is all-day."""

    day: date
    words: str
    hours: tuple[time, time] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RotaCalendar:
    """The events of a file, and what of it cannot be read."""

    events: tuple[RotaEvent, ...]
    problems: tuple[Problem, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarShifts:
    """Days with their shift, the titles that meant each shift, and what is not understood.

    `first` is the day from which the file speaks.
    """

    days: tuple[tuple[date, str], ...]
    words: tuple[tuple[str, str], ...]
    problems: tuple[Problem, ...]
    first: date = date.min


class Line(NamedTuple):
    """A content line, unfolded, with the number of the line on which it begins."""

    number: int
    name: str
    value: str
    text: str


@dataclass(slots=True)
class _Calendar:
    """One calendar of a file: lines that are no event, and the lines of each event."""

    head: list[Line] = field(default_factory=list)
    events: list[list[Line]] = field(default_factory=list)
    marks: Counter[tuple[str | None, ...]] = field(default_factory=Counter)

    def add(self, event: list[Line]) -> None:
        """Add an event. Some programs give all theirs one UID, of which only one would count;
        some end a series of shifts by a day, which then lacks its last one (RFC 5545, 3.3.10).
        """
        own = {line.name: line.value for line in event}
        mark = (own.get("UID"), own.get("SEQUENCE"), own.get("RECURRENCE-ID"))
        before = self.marks[mark]
        self.marks[mark] += "RECURRENCE-ID" not in own
        ends = r"\1T235959Z" if "T" in own["DTSTART"] else r"\1"
        for at, line in enumerate(event):
            if line.name == "UID" and before:
                event[at] = line._replace(text=f"{line.text}-{before}")
            elif line.name == "RRULE":
                event[at] = line._replace(text=re.sub(r"(UNTIL=\d{8})(?!\w)", ends, line.text))
        self.events.append(event)

    @property
    def cancels(self) -> bool:
        """Whether all its events are cancelled ones (RFC 5546, METHOD:CANCEL)."""
        return any(line.name == "METHOD" and line.value == "CANCEL" for line in self.head)

    def text(self, events: list[list[Line]]) -> str:
        """An iCalendar file with its time zones and these events."""
        lines = [line.text for event in (self.head, *events) for line in event]
        return "\r\n".join(("BEGIN:VCALENDAR", *lines, "END:VCALENDAR", ""))


def read_events(raw: bytes, path: str, *, zone: str, first: date, last: date) -> RotaCalendar:
    """Every event of an iCalendar file on the days from `first` to `last`, repeats included.

    An event over several days gives one for each of them; cancelled ones are left out. Times
    without a zone, or in one that nothing defines, are taken to be in `zone`.

    Raises:
        FormatError: It is not an iCalendar file at all.
    """
    text = raw.decode("utf-8-sig", errors="replace")
    if not text.strip():
        raise FormatError("the file is empty", EXPORT, Place(path))
    if "BEGIN:VCALENDAR" not in text.upper():
        message = "this is not an iCalendar file: it has no line BEGIN:VCALENDAR"
        raise FormatError(message, EXPORT, Place(path, 1))
    problems: list[Problem] = []
    events: set[RotaEvent] = set()
    for calendar in _calendars(text, path, problems):
        if calendar.cancels:
            continue
        for event in _occurrences(calendar, path, problems, first, last):
            words = " ".join(str(event.get("SUMMARY", "")).split())[:LONGEST_TITLE]
            status = str(event.get("STATUS", "")).upper()
            if status != "CANCELLED" and not CANCELLED.search(plain_title(words)):
                end = event["DTEND"].dt if "DTEND" in event else None
                found = _days(words, event["DTSTART"].dt, end, ZoneInfo(zone))
                events.update(one for one in found if first <= one.day <= last)
                if len(events) > MOST_EVENTS:
                    raise _too_many(path, first, last)
    ordered = sorted(events, key=lambda e: (e.day, e.hours or (time(), time()), e.words))
    return RotaCalendar(events=tuple(ordered), problems=tuple(problems))


def _calendars(text: str, path: str, problems: list[Problem]) -> list[_Calendar]:
    """The calendars of a file, without events that are cut off or that no rota has."""
    found: list[_Calendar] = []
    event: list[Line] | None = None
    for line in (*_unfolded(text), Line(0, "END", "VCALENDAR", "")):
        mark = f"{line.name}:{line.value}"
        if event is not None and mark in ("BEGIN:VEVENT", "END:VCALENDAR", "BEGIN:VCALENDAR"):
            problems.append(_left_out(path, event[0].number, "this event has no end", EXPORT))
            event = None
        if mark == "BEGIN:VCALENDAR":
            found.append(_Calendar())
        elif mark == "BEGIN:VEVENT" and found:
            event, inner = [line], 0
        elif event is not None and mark == "END:VEVENT":
            fault = _fault(event)
            if fault is None:
                found[-1].add([*event, line])
            else:
                problems.append(_left_out(path, *fault))
            event = None
        elif event is not None and line.name in ("BEGIN", "END"):  # an alarm, which is no duty
            inner += {"BEGIN": 1, "END": -1}[line.name]
        elif event is not None and not inner:
            event.append(line)
        elif event is None and found and ":" in line.text and mark != "END:VCALENDAR":
            found[-1].head.append(line)
    return found


def _left_out(path: str, line: int, message: str, hint: str) -> Problem:
    return Problem(Place(path, line), "unreadable-event", f"{message}; left out", hint, "caution")


def _occurrences(
    calendar: _Calendar, path: str, problems: list[Problem], first: date, last: date
) -> list[Any]:
    """Each time an event takes place in these days; one the library cannot read is a Problem.

    Raises:
        FormatError: There are so many that walking through them would take too long.
    """
    wanted = _near(calendar.events, first, last)
    if len(wanted) > MOST_EVENTS:
        raise _too_many(path, first, last)
    if sum(any(line.name == "RRULE" for line in event) for event in wanted) > MOST_SERIES:
        message = f"more than {MOST_SERIES} events that repeat"
        raise FormatError(message, "export the rota alone", Place(path))
    try:
        return _between(calendar.text(wanted), first, last)
    except UNREADABLE:
        found: list[Any] = []
    same: dict[str, list[list[Line]]] = {}
    for event in wanted:
        same.setdefault(_uid(event), []).append(event)
    for events in same.values():
        try:
            found += _between(calendar.text(events), first, last)
        except UNREADABLE:
            message = "the event that begins here cannot be read"
            problems.append(_left_out(path, events[0][0].number, message, ENTER))
    return found


def _near(events: list[list[Line]], first: date, last: date) -> list[list[Line]]:
    """Events that may reach into these days, and all of their UID, which may change them."""
    begin = f"{first - timedelta(days=LONGEST_STAY_DAYS + 1):%Y%m%d}"
    end = f"{last + timedelta(days=2):%Y%m%d}"
    near = set()
    for event in events:
        own = {line.name: line.value for line in event}
        repeated = not own.keys().isdisjoint(("RRULE", "RDATE", "RECURRENCE-ID"))
        if repeated or begin <= own["DTSTART"][:8] <= end:
            near.add(_uid(event))
    return [event for event in events if _uid(event) in near]


def _uid(event: list[Line]) -> str:
    """The UID of an event; the number of its line if it has none."""
    return next((line.value for line in event if line.name == "UID"), str(event[0].number))


def _too_many(path: str, first: date, last: date) -> FormatError:
    message = f"more than {MOST_EVENTS} events from {first} to {last}"
    return FormatError(message, "export the rota alone", Place(path))


def _between(text: str, first: date, last: date) -> list[Any]:
    import recurring_ical_events
    from icalendar import Calendar

    calendar = Calendar.from_ical(text)
    return list(recurring_ical_events.of(calendar).between(first, last + timedelta(days=1)))


def _days(
    words: str, start: date | datetime, end: date | datetime | None, zone: ZoneInfo
) -> list[RotaEvent]:
    """One for each day of the event: a night is of one day, a stay of 33 hours of two."""
    if isinstance(start, datetime):
        begins = _by_the_clock(start, zone)
        ends = _by_the_clock(end, zone) if isinstance(end, datetime) else begins
        count = math.ceil((ends - begins) / timedelta(days=1))
        hours = (begins.time(), ends.time()) if ends > begins else None
    else:
        begins, hours = datetime.combine(start, time()), None
        count = (end - start).days if end is not None and not isinstance(end, datetime) else 1
    days = range(min(max(1, count), LONGEST_STAY_DAYS))
    return [RotaEvent(day=begins.date() + timedelta(i), words=words, hours=hours) for i in days]


def _by_the_clock(moment: datetime, zone: ZoneInfo) -> datetime:
    return (moment.astimezone(zone) if moment.tzinfo else moment).replace(tzinfo=None)


def shifts_of(
    events: tuple[RotaEvent, ...],
    path: str,
    shifts: tuple[Shift, ...],
    remembered: Mapping[str, str],
    *,
    all_day_first: bool = False,
) -> CalendarShifts:
    """Give each day its shift; see `rota_words.shift_for`. What means no shift is a Problem.

    Of two events on one day, one with hours goes before an all-day one, or after it with
    `all_day_first`; then the longer duty counts. The events are in order of their days; what is
    remembered is the shift's name by words in small letters.
    """
    chosen: dict[date, tuple[bool, int, str]] = {}
    words: dict[str, str] = {}
    unknown: dict[str, date] = {}
    disputed: dict[date, str] = {}
    by_name = {shift.name: shift for shift in shifts}
    for event in events:
        name = shift_for(event.words, event.hours, shifts, remembered)
        if name is None:
            unknown.setdefault(event.words, event.day)
            continue
        words[event.words.casefold()] = name
        rank = ((event.hours is None) == all_day_first, _length(by_name[name]), name)
        before = chosen.get(event.day)
        if before is not None and before[0] != rank[0] and before[2] != name:
            disputed[event.day] = event.words
        chosen[event.day] = rank if before is None else max(before, rank)
    problems = [_unknown(path, title, day, by_name) for title, day in unknown.items()]
    if disputed:
        problems.append(_disputed(path, disputed, all_day_first=all_day_first))
    return CalendarShifts(
        days=tuple((day, name) for day, (_, _, name) in chosen.items()),
        words=tuple(words.items()),
        problems=tuple(problems),
    )


def _unknown(path: str, title: str, day: date, shifts: Mapping[str, Shift]) -> Problem:
    when = f"{day.day} {day:%b %Y}"
    near = nearest(title, list(shifts))
    hint = f'say which shift it is: --word "{title}=night"' + (f" ({near})" if near else "")
    message = f"not recognised as a shift: '{title}' on {when}; left out"
    if not title:
        message = f"an event on {when} has no title (SUMMARY); left out"
        hint = "name it in your calendar, and export it again"
    return Problem(Place(path), "unknown-event", message, hint, "caution")


def _disputed(path: str, days: Mapping[date, str], *, all_day_first: bool) -> Problem:
    day, title = min(days.items())
    went = "all-day events went" if all_day_first else "hours went"
    message = f"an all-day event and one with hours disagree on {counted(len(days), 'day')}"
    message = f"{message}, first on {day.day} {day:%b %Y} ('{title}'); {went} first"
    hint = "leave --all-day out" if all_day_first else "add --all-day"
    return Problem(Place(path), "two-events", message, f"{hint} if that is wrong", "caution")


def _length(shift: Shift) -> int:
    if shift.start is None or shift.end is None:
        return 0
    start, end = clock_minutes((shift.start, shift.end))
    return end - start


def _fault(event: list[Line]) -> tuple[int, str, str] | None:
    """What makes an event unreadable, or endless for the library: its line, why, and a hint."""
    for line in event:
        if ":" not in line.text:
            return line.number, "this line has no colon, so it is not one of a calendar", EXPORT
        if line.name in DATED and not all(MOMENT.match(one) for one in line.value.split(",")):
            message = f"{line.name}: '{line.value[:30]}' is not a date of a calendar"
            return line.number, message, "write it as 20270407, or 20270407T210000"
        year = re.match(r"\d{4}", line.value) if line.name in ("DTSTART", "DTEND") else None
        if year and int(year[0]) not in YEARS:
            message = f"{line.name}: no rota has an event in the year {year[0]}"
            return line.number, message, "take the event out of your calendar, and export it again"
        if line.name == "RRULE" and not _repeats(line.value):
            message = f"how the event repeats is not understood: '{line.value[:40]}'"
            return line.number, message, ENTER
    moments = {line.name: line for line in event}
    start, end, length = (moments.get(name) for name in ("DTSTART", "DTEND", "DURATION"))
    if start is None:
        return event[0].number, "the event that begins here has no start (DTSTART)", ENTER
    if end and _ends_before(start, end):
        return end.number, "this event ends before it begins", ENTER
    if length and length.value.startswith("-"):
        return length.number, "this event ends before it begins", ENTER
    return None


def _ends_before(start: Line, end: Line) -> bool:
    """Whether an event ends before it begins; days of two zones may differ by one."""
    same_form = end.text.partition(":")[0][5:] == start.text.partition(":")[0][7:]
    if same_form and len(end.value) == len(start.value):
        return end.value < start.value
    try:
        first, last = (date.fromisoformat(line.value[:8]) for line in (start, end))
    except ValueError:
        return False
    return last < first - timedelta(days=1)


def _repeats(value: str) -> bool:
    """Whether a rule is one that the library follows in good time: at most once a day."""
    parts = dict(part.partition("=")[::2] for part in value.split(";"))
    every = parts.get("INTERVAL", "1")
    often = any("," in parts.get(unit, "") for unit in ("BYHOUR", "BYMINUTE", "BYSECOND"))
    known = parts.get("FREQ") in FREQUENCIES and not often
    return known and every.isdecimal() and int(every[:9]) > 0


def _unfolded(text: str) -> Iterator[Line]:
    """Content lines; those that continue one are joined to it, empty ones are left out."""
    found: list[tuple[int, str]] = []
    for number, line in enumerate(re.split(r"\r\n|\n|\r", text), start=1):
        if line[:1] in (" ", "\t") and found:
            begun, before = found[-1]
            found[-1] = (begun, before + line[1:])
        elif line:
            found.append((number, line))
    for number, line in found:
        name = re.split(r"[:;]", line)[0].upper()
        _, _, value = re.sub(r'"[^"]*"', "", line).partition(":")  # a quoted zone may hold colons
        yield Line(number, name, value.strip().upper(), line)
