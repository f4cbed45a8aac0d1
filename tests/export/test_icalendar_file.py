"""The plan as a calendar: what RFC 5545 asks, and that another library reads the same."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import pytest
import vobject
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from icalendar import Calendar

from kb.cli import main
from kb.export.icalendar_file import uid, write_calendar
from kb.planning.calendar_entries import Entry

NOW = datetime(2027, 2, 14, 12, tzinfo=UTC)
QUOTA = Entry(day=date(2027, 3, 1), kind="questions", title="Questions: 60 Cardiology; 4, mixed")
PAPER = Entry(
    day=date(2027, 4, 3), kind="paper 1", title="Paper, timed", start=time(9, 30), minutes=180
)


def write(*entries: Entry, now: datetime = NOW) -> bytes:
    """A calendar with these events."""
    return write_calendar(entries, name="The Quill Examination", zone="Europe/London", now=now)


def test_an_all_day_event_ends_on_the_next_day() -> None:
    """DTEND is a DATE and not included (RFC 5545, section 3.6.1)."""
    lines = write(QUOTA).decode().split("\r\n")
    assert "DTSTART;VALUE=DATE:20270301" in lines
    assert "DTEND;VALUE=DATE:20270302" in lines


def test_required_lines() -> None:
    """VERSION 2.0, PRODID, UID and DTSTAMP are there; text is escaped (RFC 5545, 3.3.11)."""
    text = write(QUOTA).decode()
    for line in ("VERSION:2.0\r\n", "PRODID:", "UID:", "DTSTAMP:20270214T120000Z\r\n"):
        assert line in text
    assert "60 Cardiology\\; 4\\, mixed" in text


@given(st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=200))
def test_lines_are_folded_at_75_octets(title: str) -> None:
    """No line is longer than 75 octets of UTF-8 and each ends in CRLF (RFC 5545, section 3.1)."""
    raw = write(Entry(day=date(2027, 3, 1), kind="questions", title=title))
    assert raw.endswith(b"\r\n")
    assert b"\n" not in raw.replace(b"\r\n", b"")
    assert all(len(line) <= 75 for line in raw.split(b"\r\n"))
    (event,) = Calendar.from_ical(raw).walk("VEVENT")
    assert str(event["SUMMARY"]) == title


def test_hours_are_the_doctors_own() -> None:
    """09:30 in London is 08:30 UTC once clocks have gone forward; a paper lasts three hours."""
    (event,) = Calendar.from_ical(write(PAPER)).walk("VEVENT")
    assert event["DTSTART"].dt == datetime(2027, 4, 3, 8, 30, tzinfo=UTC)
    assert event["DTEND"].dt - event["DTSTART"].dt == timedelta(hours=3)


def test_another_export_keeps_its_uids() -> None:
    """What the day holds may change: its UID stays, and the later export has a higher sequence."""
    changed = Entry(day=QUOTA.day, kind=QUOTA.kind, title="Questions: 20 Neurology")
    (one,) = Calendar.from_ical(write(QUOTA)).walk("VEVENT")
    (two,) = Calendar.from_ical(write(changed, now=NOW + timedelta(days=1))).walk("VEVENT")
    assert one["UID"] == two["UID"]
    assert two["SEQUENCE"] > one["SEQUENCE"]


def test_uids_differ_by_day_and_kind() -> None:
    """Two events never share a UID."""
    days = [date(2027, 3, 1) + timedelta(days=i) for i in range(50)]
    kinds = ("questions", "paper 1", "paper 2", "mock", "exam")
    entries = [Entry(day=day, kind=kind, title="") for day in days for kind in kinds]
    assert len({uid("exam", entry) for entry in entries}) == len(entries)


# The example of RFC 5545, section 3.6.1: 28 June to 8 July, eleven days.
RFC_ALL_DAY = (date(2007, 6, 28), date(2007, 7, 9))


def test_the_example_of_the_standard_has_eleven_days() -> None:
    """DTSTART 20070628 and DTEND 20070709 are 28 June to 8 July."""
    from kb.importers.rota_calendar import read_events

    start, end = RFC_ALL_DAY
    raw = (
        "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//t//t//EN\r\nBEGIN:VEVENT\r\nUID:1\r\n"
        "DTSTAMP:20070423T123432Z\r\nSUMMARY:Leave\r\n"
        f"DTSTART;VALUE=DATE:{start:%Y%m%d}\r\nDTEND;VALUE=DATE:{end:%Y%m%d}\r\n"
        "END:VEVENT\r\nEND:VCALENDAR\r\n"
    ).encode()
    first, last = date(2007, 6, 1), date(2007, 7, 31)
    found = read_events(raw, "r.ics", zone="Europe/London", first=first, last=last)
    assert [e.day for e in found] == [start + timedelta(days=i) for i in range(11)]


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_a_second_library_reads_the_exported_plan(base: Callable[..., Path]) -> None:
    """The plan of a base, written by the command, opens in a library that did not write it."""
    root = base()
    target = root.parent / "plan.ics"
    words = ["--base", str(root), "calendar", str(target), "--as-of", "2027-02-14"]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.stderr
    raw = target.read_bytes()
    ours = Calendar.from_ical(raw).walk("VEVENT")
    theirs = vobject.readOne(raw.decode()).contents["vevent"]
    assert len(theirs) == len(ours) > 10
    assert {str(e.uid.value): e.dtstart.value for e in theirs} == {
        str(e["UID"]): e["DTSTART"].dt for e in ours
    }
    exam = [e for e in theirs if e.summary.value == "The exam"]
    assert [e.dtstart.value for e in exam] == [date(2027, 5, 11)]
