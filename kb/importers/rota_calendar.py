"""A rota from an iCalendar file (RFC 5545): events by their words become shifts by their day."""

from __future__ import annotations

import codecs
import re
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from kb.core.errors import FormatError, Place, Problem, nearest
from kb.importers.calendar_errors import fault_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from kb.core.model import Shift


@dataclass(frozen=True, slots=True, kw_only=True)
class RotaEvent:
    """One event on one day. `start` and `end` are None for an all-day event."""

    day: date
    words: str
    start: time | None = None
    end: time | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class TakenRota:
    """Days with their shift, the words that stood for each shift, and what is not understood."""

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

    found = []
    try:
        calendars = Calendar.from_ical(raw.removeprefix(codecs.BOM_UTF8), multiple=True)
        for calendar in calendars:
            found += recurring_ical_events.of(calendar).between(first, last + timedelta(days=1))
    except (ValueError, IndexError, KeyError, AttributeError, TypeError) as error:
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


def take_rota(
    events: tuple[RotaEvent, ...],
    path: str,
    shifts: tuple[Shift, ...],
    remembered: Mapping[str, str],
) -> TakenRota:
    """Give each day its shift.

    An event's words stand for a shift when they were told to before; else when they hold the
    shift's name; else when its hours are that shift's. Words that stand for nothing are Problems.
    Of two events on one day the longer duty counts.

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
    for said, day in unknown.items():
        hint = nearest(said, [shift.name for shift in shifts])
        hint = f'say which shift it is: --word "{said}=night"' + (f" ({hint})" if hint else "")
        message = f"'{said}' on {day.isoformat()} stands for no known shift; left out"
        if not said:
            message = f"an event on {day.isoformat()} has no words (SUMMARY); left out"
            hint = "name it in your calendar, and export it anew"
        problems.append(
            Problem(
                place=Place(path),
                code="unknown-event",
                message=message,
                hint=hint,
                severity="warning",
            )
        )
    return TakenRota(
        days=tuple((day, name) for day, (_, name) in sorted(chosen.items())),
        words=tuple(sorted(words.items())),
        problems=tuple(problems),
    )


def _shift_for(
    event: RotaEvent, shifts: tuple[Shift, ...], remembered: Mapping[str, str]
) -> str | None:
    said = event.words.casefold()
    names = {shift.name for shift in shifts}
    for words in sorted(remembered, key=len, reverse=True):
        if remembered[words] in names and _holds(said, words):
            return remembered[words]
    named = [name for name in sorted(names, key=len, reverse=True) if _holds(said, name)]
    if named:
        return named[0]
    if event.start is not None:
        for shift in shifts:
            if (shift.start, shift.end) == (event.start, event.end):
                return shift.name
    return None


def _holds(said: str, words: str) -> bool:
    """Whether `words` stand in `said` as whole words; a plural s is forgiven."""
    return re.search(rf"(?<!\w){re.escape(words)}s?(?!\w)", said) is not None


def _length(shift: Shift) -> float:
    if shift.start is None or shift.end is None:
        return 0.0
    minutes = (shift.end.hour - shift.start.hour) * 60 + shift.end.minute - shift.start.minute
    return float(minutes if minutes > 0 else minutes + 1440)
