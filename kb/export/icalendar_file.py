"""The plan as an iCalendar file (RFC 5545): study as all-day events, papers with their hours.

Every event keeps its UID from one file to the next and counts its revisions, and one that is no
longer planned is cancelled, so that importing a later file changes a calendar instead of filling it
twice. The exam's name is in no UID.
"""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import icalendar

from kb.planning.calendar_entries import Event

PRODUCT = "-//missbook//plan//EN"


def write_calendar(events: Iterable[Event], *, name: str, zone: str, now: datetime) -> bytes:
    """The text of an .ics file, UTF-8, lines ended and folded as RFC 5545 requires.

    METHOD:PUBLISH allows STATUS:CANCELLED for events published before (RFC 5546, section 3.2.1).
    `name` is the exam's, for the calendar's name. The hours in the entries are in `zone`; moments
    are written in UTC.
    """
    calendar = icalendar.Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    calendar.add("x-wr-calname", f"Plan for {name}")
    for one in events:
        entry, event = one.entry, icalendar.Event()
        event.add("uid", one.row.uid)
        event.add("dtstamp", now.astimezone(UTC))
        event.add("last-modified", one.row.at.astimezone(UTC))
        event.add("sequence", one.row.sequence)
        event.add("status", "CANCELLED" if one.row.cancelled else "CONFIRMED")
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
