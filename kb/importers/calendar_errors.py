"""What is wrong with an iCalendar file (RFC 5545), in plain words and with its line.

The reading itself is a library's; this is asked only when that has given up.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, NamedTuple

if TYPE_CHECKING:
    from collections.abc import Iterator

MOMENT = re.compile(r"\d{8}(?:T\d{6}Z?)?")
DATED = ("DTSTART", "DTEND", "RECURRENCE-ID", "EXDATE", "RDATE")
FREQUENCIES = ("SECONDLY", "MINUTELY", "HOURLY", "DAILY", "WEEKLY", "MONTHLY", "YEARLY")
EXPORT = "export the rota from your calendar again, as an .ics file"


class Fault(NamedTuple):
    """What is wrong, in which line (0 for the file as a whole), and how to mend it."""

    message: str
    line: int
    hint: str = EXPORT


def fault_of(raw: bytes) -> Fault:
    """The first thing that is wrong with a file that could not be read as a calendar."""
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
            return Fault("this line has no colon, so it is none of an iCalendar file", number)
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
            found = _off(name, value, number)
            if found is not None:
                return found
    if open_parts:
        part, begun = open_parts[-1]
        return Fault(f"the file is cut off: {part} begins here and has no end", begun)
    return Fault("the calendar cannot be read", 0)


def _off(name: str, value: str, line: int) -> Fault | None:
    if name in DATED and not all(MOMENT.match(one) for one in value.strip().split(",")):
        hint = "write it as 20270407, or 20270407T210000"
        return Fault(f"{name}: '{value.strip()[:30]}' is not a date of a calendar", line, hint)
    if name == "RRULE":
        parts = dict(part.upper().partition("=")[::2] for part in value.strip().split(";"))
        if parts.get("FREQ") not in FREQUENCIES:
            hint = "enter the repeat again in your calendar, and export it anew"
            return Fault(f"how the event repeats is not understood: '{value[:40]}'", line, hint)
    return None


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
