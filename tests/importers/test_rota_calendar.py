"""A rota from a calendar: repeats, words that are remembered, and what is not understood."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, time
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from kb.cli import main
from kb.core.errors import FormatError
from kb.formats.rota import STARTING_SHIFTS
from kb.formats.study import parse_study
from kb.importers.rota_calendar import RotaEvent, read_events, shifts_of

FIRST, LAST = date(2027, 2, 14), date(2027, 5, 11)


def calendar(*events: str) -> bytes:
    """An iCalendar file with these events, each written as lines."""
    body = "".join(
        f"BEGIN:VEVENT\r\nUID:{i}\r\nDTSTAMP:20270101T000000Z\r\n"
        + "".join(f"{line}\r\n" for line in event.split("\n"))
        + "END:VEVENT\r\n"
        for i, event in enumerate(events)
    )
    head = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:-//t//t//EN\r\n"
    return f"{head}{body}END:VCALENDAR\r\n".encode()


NIGHTS = (
    "DTSTART;TZID=Europe/London:20270326T200000\nDTEND;TZID=Europe/London:20270327T083000\n"
    "RRULE:FREQ=DAILY;COUNT=4\nEXDATE;TZID=Europe/London:20270328T200000\nSUMMARY:Ward cover"
)
TWILIGHT = "DTSTART;VALUE=DATE:20270310\nSUMMARY:Twilight clinic"
LEAVE = "DTSTART;VALUE=DATE:20270320\nDTEND;VALUE=DATE:20270322\nSUMMARY:Annual leave"


def read(*events: str) -> tuple[RotaEvent, ...]:
    """Events of a calendar in the span of the tests."""
    raw = calendar(*events)
    return read_events(raw, "r.ics", zone="Europe/London", first=FIRST, last=LAST)


def test_repeats_keep_their_clock_time_over_a_clock_change() -> None:
    """A repeated night begins at 20:00 before and after a clock change; days left out stay out."""
    found = read(NIGHTS)
    assert [(e.day.day, e.start, e.end) for e in found] == [
        (26, time(20), time(8, 30)),
        (27, time(20), time(8, 30)),
        (29, time(20), time(8, 30)),
    ]


def test_words_hours_and_names_tell_the_shift() -> None:
    """Words told before come first, then a shift's own name, then its hours."""
    taken = shifts_of(
        read(NIGHTS, TWILIGHT, LEAVE), "r.ics", STARTING_SHIFTS, {"twilight clinic": "late"}
    )
    assert dict(taken.days)[date(2027, 3, 26)] == "night"
    assert dict(taken.days)[date(2027, 3, 10)] == "late"
    assert dict(taken.days)[date(2027, 3, 21)] == "leave"
    assert dict(taken.words)["ward cover"] == "night"
    assert taken.problems == ()


def test_what_stands_for_no_shift_is_said() -> None:
    """An event that nothing explains is left out, and the message says how to explain it."""
    taken = shifts_of(read(TWILIGHT), "r.ics", STARTING_SHIFTS, {})
    assert taken.days == ()
    assert str(taken.problems[0]).startswith(
        "r.ics: not recognised as a shift: 'Twilight clinic' on 2027-03-10; left out\n"
        '  hint: say which shift it is: --word "Twilight clinic=night"'
    )


def test_the_longer_duty_of_a_day_counts() -> None:
    """A day with two events has the longer duty."""
    day = "DTSTART;VALUE=DATE:20270310\nSUMMARY:"
    taken = shifts_of(read(day + "Course", day + "Long day"), "r.ics", STARTING_SHIFTS, {})
    assert taken.days == ((date(2027, 3, 10), "long"),)


EVENT = b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nSUMMARY:Night,\r\n  on call\r\n"
ENDS = b"END:VEVENT\r\nEND:VCALENDAR\r\n"
START = b"DTSTART;VALUE=DATE:20270310\r\n"


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"", "r.ics: the file is empty"),
        (b"hello", "r.ics:1: this is not an iCalendar file"),
        (b"Day,Shift\n2027-03-10,night\n", "r.ics:1: this is not an iCalendar file"),
        (b"BEGIN:VCALENDAR\r\n", "r.ics:1: the file is cut off"),
        (EVENT + START, "r.ics:2: the file is cut off: VEVENT begins here"),
        (EVENT + ENDS, "r.ics:2: the event that begins here has no start"),
        (EVENT + b"DTSTART:2027-03-10\n" + ENDS, "r.ics:5: DTSTART: '2027-03-10' is not a date"),
        (EVENT + START + b"RRULE:FREQ=SOON\n" + ENDS, "r.ics:6: how the event repeats"),
        (EVENT + START + b"RRULE:FREQ=SECONDLY\n" + ENDS, "r.ics:6: how the event repeats"),
        (EVENT + START + b"RRULE:FREQ=DAILY;INTERVAL=0\n" + ENDS, "r.ics:6: how the event repeats"),
        (EVENT + START + b"DTEND;VALUE=DATE:99991231\n" + ENDS, "r.ics:6: DTEND: the year 9999"),
        (EVENT + b"DTSTART:00010101T080000Z\n" + ENDS, "r.ics:5: DTSTART: the year 0001"),
        (EVENT + b"DTSTART;TZID=Europe:20270310T200000\n" + ENDS, "r.ics: the calendar cannot be"),
        (EVENT + START + b"DURATION:P9999999W\n" + ENDS, "r.ics: the calendar cannot be read"),
        (b"BEGIN:VCALENDAR\r\nhello\r\n" + ENDS, "r.ics:2: this line has no colon"),
        (b"BEGIN:VCALENDAR\r\n" + ENDS, "r.ics:2: VEVENT ends here, but was not begun"),
    ],
)
def test_what_is_no_calendar_is_one_clear_error(raw: bytes, said: str) -> None:
    """In plain words, with the line, and how to mend it."""
    with pytest.raises(FormatError) as raised:
        read_events(raw, "r.ics", zone="UTC", first=FIRST, last=LAST)
    assert str(raised.value).startswith(said)
    assert raised.value.hint


def test_a_time_zone_may_begin_long_ago() -> None:
    """Calendar programs write the rules of a clock change from the year 1601 on."""
    zone = (
        "BEGIN:VTIMEZONE\r\nTZID:Somewhere\r\nBEGIN:STANDARD\r\nDTSTART:16010101T000000\r\n"
        "TZOFFSETFROM:+0000\r\nTZOFFSETTO:+0000\r\nRRULE:FREQ=YEARLY;BYMONTH=10;BYDAY=-1SU\r\n"
        "END:STANDARD\r\nEND:VTIMEZONE\r\n"
    )
    raw = calendar(TWILIGHT).replace(b"BEGIN:VEVENT", f"{zone}BEGIN:VEVENT".encode())
    found = read_events(raw, "r.ics", zone="UTC", first=FIRST, last=LAST)
    assert [event.day.day for event in found] == [10]


def test_two_calendars_in_one_file_are_both_read() -> None:
    """Some departments publish one for each ward."""
    raw = calendar(TWILIGHT) + calendar(TWILIGHT.replace("0310", "0311"))
    found = read_events(raw, "r.ics", zone="UTC", first=FIRST, last=LAST)
    assert [event.day.day for event in found] == [10, 11]


@pytest.mark.parametrize(
    ("events", "said"),
    [
        ((), "it has no event from 2027-02-14 to 2027-06-08; nothing was set"),
        ((TWILIGHT,), "none of its events is a shift; nothing was set"),
    ],
)
def test_a_calendar_that_sets_no_day_is_refused(
    base: Callable[..., Path], events: tuple[str, ...], said: str
) -> None:
    """It does not end as if a rota had been taken in; study.yaml stays."""
    root = base()
    before = (root / "study.yaml").read_bytes()
    file = root.parent / "a.ics"
    file.write_bytes(calendar(*events))
    words = ["--base", str(root), "rota", str(file), "--as-of", "2027-02-14"]
    done = CliRunner().invoke(main, words)
    assert (done.exit_code, done.stdout) == (2, "")
    assert said in done.stderr
    assert (root / "study.yaml").read_bytes() == before


@given(st.binary(max_size=120))
def test_no_bytes_raise_anything_else(raw: bytes) -> None:
    """Whatever the bytes, the end is events or one error of ours."""
    wrapped = calendar(TWILIGHT).replace(b"Twilight clinic", raw)
    for one in (raw, wrapped):
        try:
            read_events(one, "r.ics", zone="UTC", first=FIRST, last=LAST)
        except FormatError:
            continue


def test_the_command_writes_days_and_remembers_words(base: Callable[..., Path]) -> None:
    """Days and words go into study.yaml; the next file needs no words; comments stay."""
    study = "timezone: Europe/London   # home\nreserve: 20\n"
    root = base({"study.yaml": study})
    first = root.parent / "a.ics"
    first.write_bytes(calendar(NIGHTS, TWILIGHT))
    day = ["--as-of", "2027-02-14"]
    words = ["--base", str(root), "rota", str(first), "--word", "twilight clinic=late", *day]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0, done.stderr
    assert done.stdout.endswith("4 days set in study.yaml\n")
    second = root.parent / "b.ics"
    second.write_bytes(calendar(TWILIGHT.replace("0310", "0311")))
    again = CliRunner().invoke(main, ["--base", str(root), "rota", str(second), *day])
    assert again.stdout == "2027-03-11  late\n1 day set in study.yaml\n"
    text = (root / "study.yaml").read_text(encoding="utf-8")
    assert text.startswith(study)
    rota = parse_study(text, "study.yaml")[0].rota
    assert rota is not None
    assert dict(rota.exceptions)[date(2027, 3, 11)] == "late"


def test_a_dry_run_writes_nothing(base: Callable[..., Path]) -> None:
    """--dry-run shows the days and leaves study.yaml as it is."""
    root = base()
    before = (root / "study.yaml").read_bytes()
    file = root.parent / "a.ics"
    file.write_bytes(calendar(LEAVE))
    words = ["--base", str(root), "rota", str(file), "--dry-run", "--as-of", "2027-02-14"]
    done = CliRunner().invoke(main, words)
    assert done.stdout == "2027-03-20  leave\n2027-03-21  leave\n2 days would be set\n"
    assert (root / "study.yaml").read_bytes() == before
