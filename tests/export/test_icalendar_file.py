"""The plan as a calendar: what RFC 5545 asks, and that another library reads the same."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import ics
import pytest
import vobject
from click.testing import CliRunner
from hypothesis import assume, given
from hypothesis import strategies as st
from icalendar import Calendar
from plan_bases import OFFICE, study

from kb.cli import main
from kb.export.icalendar_file import write_calendar
from kb.formats.side_logs import CALENDAR, CalendarRow
from kb.planning.calendar_entries import Entry, revised

NOW = datetime(2027, 2, 14, 12, tzinfo=UTC)
QUOTA = Entry(day=date(2027, 3, 1), slot="study", title="Study: 60 Cardiology; 4, mixed")
PAPER = Entry(
    day=date(2027, 4, 3),
    slot="paper-1 part 1",
    title="Paper one, part 1",
    start=time(9, 30),
    minutes=180,
)


def write(*entries: Entry, now: datetime = NOW, known: Iterable[CalendarRow] = ()) -> bytes:
    """A calendar with these events, after others were written."""
    events = revised(entries, known, now, date(2027, 2, 14), base_mark="a")
    return write_calendar(events, name="The Quill Examination", zone="Europe/London", now=now)


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
    assume("\\N" not in title)  # the library takes it for a line break
    raw = write(Entry(day=date(2027, 3, 1), slot="study", title=title))
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


LATER = NOW + timedelta(days=1)


def rows(
    *entries: Entry,
    now: datetime = NOW,
    known: Iterable[CalendarRow] = (),
    base_mark: str = "a",
) -> list[CalendarRow]:
    """What is remembered of an export."""
    events = revised(entries, known, now, now.date(), base_mark=base_mark)
    return [event.row for event in events]


def test_a_revision_counts_from_zero_and_only_for_what_changed() -> None:
    """SEQUENCE begins at 0 and is one more at each revision (RFC 5545, section 3.8.7.4)."""
    first = rows(QUOTA, PAPER)
    moved = replace(PAPER, day=PAPER.day + timedelta(days=7))
    second = rows(QUOTA, moved, now=LATER, known=first)
    assert [row.sequence for row in first] == [0, 0]
    assert [row.sequence for row in second] == [0, 1]
    assert [row.uid for row in second] == [row.uid for row in first]
    assert second[0] == first[0]


def test_what_is_no_longer_planned_is_cancelled_under_its_uid() -> None:
    """STATUS:CANCELLED with the next SEQUENCE (RFC 5546, 3.2.1 and 3.2.5), until its day is past;
    planned again it is confirmed with one more.
    """
    first = rows(QUOTA, PAPER)
    raw = write(PAPER, now=LATER, known=first)
    paper, study = Calendar.from_ical(raw).walk("VEVENT")
    assert (paper["STATUS"], paper["SEQUENCE"], paper["UID"]) == ("CONFIRMED", 0, first[1].uid)
    assert (study["STATUS"], study["SEQUENCE"], study["UID"]) == ("CANCELLED", 1, first[0].uid)
    assert study["DTSTART"].dt == QUOTA.day
    known = [*first, *rows(PAPER, now=LATER, known=first)]
    assert [row.sequence for row in rows(PAPER, known=known)] == [0, 1]
    assert [row.sequence for row in rows(PAPER, QUOTA, known=known)] == [0, 2]
    past = datetime(2027, 3, 2, tzinfo=UTC)
    assert [row.slot for row in rows(PAPER, now=past, known=known)] == [PAPER.slot]


def test_uids_differ_by_slot() -> None:
    """Two events never share a UID."""
    slots = [f"{kind} {n}" for n in range(50) for kind in ("study", "review", "mock part")]
    found = rows(*(Entry(day=date(2027, 3, 1), slot=slot, title="") for slot in slots))
    assert len({row.uid for row in found}) == len(slots)


def test_two_devices_make_the_same_uids_and_two_bases_do_not() -> None:
    """Whatever the moment; what the two wrote differently goes a revision on once they met."""
    other = replace(QUOTA, title="Study: 50 Cardiology")
    one, two = rows(QUOTA, PAPER), rows(other, PAPER, now=LATER)
    assert [row.uid for row in one] == [row.uid for row in two]
    assert not {row.uid for row in one} & {row.uid for row in rows(QUOTA, PAPER, base_mark="b")}
    for known in ([*one, *two], [*two, *one]):
        both = CALENDAR.union(known)
        assert [row.sequence for row in rows(QUOTA, PAPER, known=both)] == [1, 0]


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
    found = read_events(raw, "r.ics", zone="Europe/London", first=first, last=last).events
    assert [e.day for e in found] == [start + timedelta(days=i) for i in range(11)]


PAPERS = "  - {source: p, name: Paper one, kind: paper, items: 200}\n"


@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_two_other_libraries_read_the_exported_plan(base: Callable[..., Path]) -> None:
    """Written by the command, it opens in vobject and in ics with the same UIDs and days.

    Exported again after the exam was renamed and its paper taken out, every event keeps its UID,
    and those of the paper are cancelled.
    """
    text = study(OFFICE, items=600, held_back=0)
    root = base({"study.yaml": text.replace("held_back:", PAPERS + "held_back:")})
    target = root.parent / "plan.ics"

    def export() -> Calendar:
        day = ["calendar", "--out", str(target), "--replace"]
        result = CliRunner().invoke(main, ["--base", str(root), *day])
        assert result.exit_code == 0, result.stderr
        return Calendar.from_ical(target.read_bytes())

    exam = root / "exam.yaml"
    far = (datetime.now(UTC) + timedelta(days=90)).date()
    own = re.sub(r"(?m)^date: .*", f"date: {far.isoformat()}", exam.read_text(encoding="utf-8"))
    exam.write_text(own, encoding="utf-8")
    ours = {str(e["UID"]): e for e in export().walk("VEVENT")}
    raw = target.read_bytes().decode()
    for theirs in (
        {str(e.uid.value): e.dtstart.value for e in vobject.readOne(raw).contents["vevent"]},
        {
            e.uid: e.begin.date() if e.all_day else e.begin.datetime
            for e in ics.Calendar(raw).events
        },
    ):
        assert theirs == {uid: event["DTSTART"].dt for uid, event in ours.items()}
    titles = {str(event["SUMMARY"]) for event in ours.values()}
    assert {"The exam", "Paper one, part 1", "Paper one, part 2"} <= titles
    assert any(title.startswith("Review of Paper one, ") for title in titles)
    exam.write_text(re.sub(r"(?m)^(name|exam): .*", r"\1: Another name", own), encoding="utf-8")
    (root / "study.yaml").write_text(text, encoding="utf-8")
    again = {str(e["UID"]): e for e in export().walk("VEVENT")}
    assert ours.keys() <= again.keys()
    gone = {str(event["SUMMARY"]) for event in again.values() if event["STATUS"] == "CANCELLED"}
    assert {"Paper one, part 1", "Paper one, part 2"} <= gone
    assert not any("Another" in uid or "Quill" in uid for uid in again)
