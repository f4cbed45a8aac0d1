"""The plan as an iCalendar file (RFC 5545): quotas as all-day events, papers with their hours.

Every event has a UID made from the exam, the day and the kind of work, so that importing the file
again updates the events instead of duplicating them.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from icalendar import Calendar, Event

from kb.core.ids import digest

if TYPE_CHECKING:
    from collections.abc import Iterable

    from kb.planning.calendar_entries import Entry

PRODUCT = "-//missbook//plan//EN"


def uid(name: str, entry: Entry) -> str:
    """An id that depends on exam, day and kind of work alone, not on the title."""
    return f"{digest('calendar', name, entry.day.isoformat(), entry.kind)}@missbook"


def write_calendar(entries: Iterable[Entry], *, name: str, zone: str, now: datetime) -> bytes:
    """The text of an .ics file, UTF-8, lines ended and folded as RFC 5545 requires.

    Args:
        entries: The entries, at most one for each day and kind.
        name: The exam's name; it goes into the calendar's name and the UIDs.
        zone: The zone of the hours in `entries`; moments are written in UTC.
        now: The moment of the export, aware; a later export overrides an earlier one.
    """
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", f"Plan for {name}")
    stamp = now.astimezone(UTC)
    for entry in entries:
        event = Event()
        event.add("uid", uid(name, entry))
        event.add("dtstamp", stamp)
        event.add("last-modified", stamp)
        event.add("sequence", int(stamp.timestamp()) // 60)
        event.add("summary", entry.title)
        if entry.detail:
            event.add("description", entry.detail)
        if entry.start is None:
            event.add("dtstart", entry.day)
            event.add("dtend", entry.day + timedelta(days=1))
            event.add("transp", "TRANSPARENT")
        else:
            begins = datetime.combine(entry.day, entry.start, ZoneInfo(zone)).astimezone(UTC)
            event.add("dtstart", begins)
            event.add("dtend", begins + timedelta(minutes=entry.minutes))
        calendar.add_component(event)
    raw: bytes = calendar.to_ical()
    return raw
