"""A rota from a calendar: repeats, words that are remembered, and what is not understood."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from datetime import date, time
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st

from kb.cli import main
from kb.core.errors import FormatError
from kb.core.settings import Shift
from kb.formats.rota import STARTING_SHIFTS
from kb.formats.study import parse_study
from kb.importers import rota_calendar
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
WARD_7 = "DTSTART;VALUE=DATE:20270310\nSUMMARY:Ward 7 clinic"
LEAVE = "DTSTART;VALUE=DATE:20270320\nDTEND;VALUE=DATE:20270322\nSUMMARY:Annual leave"


def read(*events: str) -> tuple[RotaEvent, ...]:
    """Events of a calendar in the span of the tests."""
    raw = calendar(*events)
    return read_events(raw, "r.ics", zone="Europe/London", first=FIRST, last=LAST).events


def test_events_of_other_years_are_not_walked_through(monkeypatch: pytest.MonkeyPatch) -> None:
    """A calendar of ten years is no longer work than its weeks that are asked for."""
    monkeypatch.setattr(rota_calendar, "MOST_EVENTS", 2)
    far = [WARD_7.replace("2027", str(year)) for year in range(2000, 2040) if year != 2027]
    assert [event.day for event in read(*far, WARD_7)] == [date(2027, 3, 10)]


def test_an_event_that_was_moved_to_another_year_is_not_in_this_one() -> None:
    """The later version counts, although it lies outside the days that are asked for."""
    raw = calendar(f"{WARD_7}\nSEQUENCE:0", f"{WARD_7.replace('2027', '2030')}\nSEQUENCE:1")
    raw = raw.replace(b"UID:1", b"UID:0")
    assert not read_events(raw, "r.ics", zone="Europe/London", first=FIRST, last=LAST).events


@pytest.mark.parametrize("length", ["DTEND;VALUE=DATE:20270301", "DURATION:P300D"])
def test_a_long_stay_that_began_before_reaches_into_these_days(length: str) -> None:
    """As leave of many months, however its end is written."""
    found = read(f"DTSTART;VALUE=DATE:20260601\n{length}\nSUMMARY:Leave")
    assert found[0].day == FIRST


def test_repeats_keep_their_clock_time_over_a_clock_change() -> None:
    """A repeated night begins at 20:00 before and after a clock change; days left out stay out."""
    found = read(NIGHTS)
    assert [(e.day.day, e.hours) for e in found] == [
        (26, (time(20), time(8, 30))),
        (27, (time(20), time(8, 30))),
        (29, (time(20), time(8, 30))),
    ]


@pytest.mark.parametrize("status", ["CANCELLED", "cancelled", "Cancelled"])
def test_a_cancelled_event_is_left_out_however_it_is_written(status: str) -> None:
    """Words of the standard may have any case (RFC 5545, section 2)."""
    assert read(f"DTSTART:20270310T080000\nSUMMARY:Day\nSTATUS:{status}") == ()


def test_more_than_a_rota_has_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """With limits of 20 events in the days asked for and 10 that repeat, of 5,000 and 700; a title
    is cut at 200 characters.
    """
    monkeypatch.setattr(rota_calendar, "MOST_EVENTS", 20)
    monkeypatch.setattr(rota_calendar, "MOST_SERIES", 10)
    day = "DTSTART;VALUE=DATE:20270310\nSUMMARY:{}"
    assert len(read(*(day.format(n) for n in range(20)))) == 20
    with pytest.raises(FormatError, match="more than 20 events from 2027-02-14 to 2027-05-11"):
        read(*(day.format(n) for n in range(21)))
    repeated = day.format("Night") + "\nRRULE:FREQ=YEARLY;COUNT=1"
    assert len(read(*[repeated] * 10)) == 1
    with pytest.raises(FormatError, match="more than 10 events that repeat"):
        read(*[repeated] * 11)
    assert [len(event.words) for event in read(day.format("x" * 201))] == [200]


def test_an_event_that_ends_before_it_begins_is_named() -> None:
    """By its end, or by how long it lasts."""
    for end in ("DTEND:20270309T080000", "DURATION:-PT1H"):
        raw = calendar(f"DTSTART:20270310T080000\n{end}\nSUMMARY:Day")
        found = read_events(raw, "r.ics", zone="Europe/London", first=FIRST, last=LAST)
        assert [str(p).split("\n")[0] for p in found.problems] == [
            "r.ics:8: this event ends before it begins; left out"
        ]


def test_an_alarm_is_no_part_of_its_event() -> None:
    """Not its title, its length or a line of it that cannot be read; what follows it is."""
    alarm = (
        "BEGIN:VALARM\nACTION:DISPLAY\nSUMMARY:Wake\nDURATION:PT99H\nTRIGGER:-PT15M\nno colon\n"
        "BEGIN:X-INNER\nX-Y:1\nEND:X-INNER\nEND:VALARM"
    )
    (event,) = read(f"DTSTART:20270310T080000\n{alarm}\nDTEND:20270310T170000\nSUMMARY:Day")
    assert (event.words, event.hours) == ("Day", (time(8), time(17)))


def test_the_longer_of_two_duties_is_told_by_its_hours() -> None:
    """By hand: of 8 h 30 by day and 8 h 31 over midnight the night counts."""
    shifts = (
        Shift(name="late", start=time(12, 30), end=time(21), study_minutes=0),
        Shift(name="dark", start=time(21, 45), end=time(6, 16), study_minutes=0),
        Shift(name="idle", start=None, end=None, study_minutes=0),
    )
    for first, second in (("late", "dark"), ("dark", "late")):
        events = tuple(
            RotaEvent(day=FIRST, words=name, hours=(s.start, s.end) if s.start and s.end else None)
            for name in (first, second)
            for s in shifts
            if s.name == name
        )
        assert shifts_of(events, "r.ics", shifts, {}).days == ((FIRST, "dark"),)


def test_a_long_morning_counts_before_a_short_evening() -> None:
    """Nine hours from six, and five from seventeen."""
    shifts = (
        Shift(name="early", start=time(6), end=time(15), study_minutes=0),
        Shift(name="evening", start=time(17), end=time(22), study_minutes=0),
    )
    hours = (("evening", (time(17), time(22))), ("early", (time(6), time(15))))
    events = tuple(RotaEvent(day=FIRST, words=name, hours=span) for name, span in hours)
    assert shifts_of(events, "r.ics", shifts, {}).days == ((FIRST, "early"),)


def test_words_hours_and_names_tell_the_shift() -> None:
    """Words told before come first, then a shift's own name, then its hours."""
    taken = shifts_of(
        read(NIGHTS, WARD_7, LEAVE), "r.ics", STARTING_SHIFTS, {"ward 7 clinic": "late"}
    )
    assert dict(taken.days)[date(2027, 3, 26)] == "night"
    assert dict(taken.days)[date(2027, 3, 10)] == "late"
    assert dict(taken.days)[date(2027, 3, 21)] == "leave"
    assert dict(taken.words)["ward cover"] == "night"
    assert taken.problems == ()


def test_an_unknown_title_names_itself_and_nothing_else_is_refused() -> None:
    """It is left out, the message says how to explain it, and the other days are set."""
    taken = shifts_of(read(WARD_7, LEAVE), "r.ics", STARTING_SHIFTS, {})
    assert [name for _, name in taken.days] == ["leave", "leave"]
    assert [str(problem) for problem in taken.problems] == [
        "r.ics: not recognised as a shift: 'Ward 7 clinic' on 10 Mar 2027; left out\n"
        '  hint: say which shift it is: --word "Ward 7 clinic=night"'
        " (known are: course, day, holiday, late, leave, long, night, off)"
    ]


def test_the_longer_duty_of_a_day_counts() -> None:
    """A day with two events has the longer duty."""
    day = "DTSTART;VALUE=DATE:20270310\nSUMMARY:"
    taken = shifts_of(read(day + "Course", day + "Long day"), "r.ics", STARTING_SHIFTS, {})
    assert taken.days == ((date(2027, 3, 10), "long"),)


def test_hours_go_before_an_all_day_word_unless_told_otherwise() -> None:
    """An all-day leave beside a shift with hours: the shift; with all_day_first the leave."""
    shift = "DTSTART:20270310T080000\nDTEND:20270310T170000\nSUMMARY:Ward 7"
    events = read(shift, "DTSTART;VALUE=DATE:20270310\nSUMMARY:Annual leave")
    usual = shifts_of(events, "r.ics", STARTING_SHIFTS, {})
    other = shifts_of(events, "r.ics", STARTING_SHIFTS, {}, all_day_first=True)
    assert (usual.days[0][1], other.days[0][1]) == ("day", "leave")
    assert str(usual.problems[0]) == (
        "r.ics: an all-day event and one with hours disagree on 1 day, first on 10 Mar 2027"
        " ('Ward 7'); hours went first\n  hint: add --all-day if that is wrong"
    )
    night = read(shift, "DTSTART;VALUE=DATE:20270310\nSUMMARY:Night team")
    assert shifts_of(night, "r.ics", STARTING_SHIFTS, {}).days[0][1] == "day"


@pytest.mark.parametrize(
    ("start", "end", "days"),
    [
        ("20270310T200000", "20270311T083000", [10]),
        ("20270310T080000", "20270311T080000", [10]),
        ("20270310T080000", "20270311T170000", [10, 11]),
        ("20270310T090000", "20270312T090000", [10, 11]),
        ("20270312T170000", "20270315T080000", [12, 13, 14]),
    ],
)
def test_a_stay_of_two_days_fills_both(start: str, end: str, days: list[int]) -> None:
    """Up to 24 hours an event is of its first day, then of one more for each 24 hours begun."""
    found = read(f"DTSTART:{start}\nDTEND:{end}\nSUMMARY:Long stay")
    assert [event.day.day for event in found] == days


GOOD = b"BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nSUMMARY:Ward 7\r\nDTSTART:20270310\r\nEND:VEVENT\r\n"
EVENT = b"BEGIN:VEVENT\r\nSUMMARY:Night,\r\n  on call\r\n"
ENDS = b"END:VEVENT\r\nEND:VCALENDAR\r\n"
START = b"DTSTART;VALUE=DATE:20270310\r\n"


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        (b"", "r.ics: the file is empty"),
        (b" \r\n\r\n", "r.ics: the file is empty"),
        (b"hello", "r.ics:1: this is not an iCalendar file"),
        (b"Day,Shift\n2027-03-10,night\n", "r.ics:1: this is not an iCalendar file"),
    ],
)
def test_what_is_no_calendar_is_one_clear_error(raw: bytes, said: str) -> None:
    """In plain words, with the line, and how to correct it."""
    with pytest.raises(FormatError) as raised:
        read_events(raw, "r.ics", zone="UTC", first=FIRST, last=LAST)
    assert str(raised.value).startswith(said)
    assert raised.value.hint


@pytest.mark.parametrize(
    ("event", "said"),
    [
        (EVENT + START, "r.ics:6: this event has no end"),
        (EVENT + ENDS, "r.ics:6: the event that begins here has no start"),
        (EVENT + b"DTSTART:2027-03-10\n" + ENDS, "r.ics:9: DTSTART: '2027-03-10' is not a date"),
        (EVENT + START + b"RRULE:FREQ=SOON\n" + ENDS, "r.ics:10: how the event repeats"),
        (EVENT + START + b"RRULE:FREQ=SECONDLY\n" + ENDS, "r.ics:10: how the event repeats"),
        (
            EVENT + START + b"RRULE:FREQ=DAILY;BYMINUTE=0,1\n" + ENDS,
            "r.ics:10: how the event repeats",
        ),
        (EVENT + START + b"RRULE:FREQ=DAILY;INTERVAL=0\n" + ENDS, "r.ics:10: how the event rep"),
        (EVENT + START + b"DTEND;VALUE=DATE:99991231\n" + ENDS, "r.ics:10: DTEND: no rota has"),
        (EVENT + b"DTSTART:00010101T080000Z\n" + ENDS, "r.ics:9: DTSTART: no rota has an event"),
        pytest.param(
            EVENT + b"DTSTART;TZID=Europe:20270310T200000\n" + ENDS,
            "r.ics:6: the event that begins",
            marks=pytest.mark.skipif(
                sys.version_info >= (3, 14), reason="a folder of zones counts as a zone unknown"
            ),
        ),
        (EVENT + START + b"DURATION:P9999999W\n" + ENDS, "r.ics:6: the event that begins here"),
        (EVENT + START + b"hello\n" + ENDS, "r.ics:10: this line has no colon"),
        (
            EVENT + b"DTSTART;TZID=Europe/London:20270310T200000\nDTEND:20230310T080000Z\n" + ENDS,
            "r.ics:10: this event ends before it begins",
        ),
        (
            EVENT + b"DTSTART;TZID=Europe/London:20270310T200000\nDTEND:20270308T080000Z\n" + ENDS,
            "r.ics:10: this event ends before it begins",
        ),
        (
            EVENT + b"DTSTART:20270310T200000\nDTEND:20270310T083000\n" + ENDS,
            "r.ics:10: this event ends before it begins",
        ),
    ],
)
def test_an_event_that_cannot_be_read_names_its_line_and_the_others_count(
    event: bytes, said: str
) -> None:
    """A good event of five lines comes before it."""
    found = read_events(GOOD + event, "r.ics", zone="UTC", first=FIRST, last=LAST)
    assert [one.words for one in found.events] == ["Ward 7"]
    (problem,) = found.problems
    assert str(problem).startswith(said)
    assert problem.hint


def test_a_time_zone_may_begin_long_ago() -> None:
    """Calendar programs write the rules of a clock change from the year 1601 on."""
    zone = (
        "BEGIN:VTIMEZONE\r\nTZID:Somewhere\r\nBEGIN:STANDARD\r\nDTSTART:16010101T000000\r\n"
        "TZOFFSETFROM:+0000\r\nTZOFFSETTO:+0000\r\nRRULE:FREQ=YEARLY;BYMONTH=10;BYDAY=-1SU\r\n"
        "END:STANDARD\r\nEND:VTIMEZONE\r\n"
    )
    raw = calendar(WARD_7).replace(b"BEGIN:VEVENT", f"{zone}BEGIN:VEVENT".encode())
    found = read_events(raw, "r.ics", zone="UTC", first=FIRST, last=LAST).events
    assert [event.day.day for event in found] == [10]


@pytest.mark.parametrize(
    "title", ["CANCELLED: Night", "Night (cancelled)", "Night shift - Canceled", "Abgesagt: Nacht"]
)
def test_a_title_that_says_cancelled_is_no_shift(title: str) -> None:
    """At its beginning or end; a clinic cancelled in the middle of a title is."""
    assert read(f"DTSTART;VALUE=DATE:20270310\nSUMMARY:{title}") == ()
    assert read("DTSTART;VALUE=DATE:20270310\nSUMMARY:Clinic cancelled, night instead")


def test_two_calendars_in_one_file_are_both_read() -> None:
    """Some departments publish one for each ward."""
    raw = calendar(WARD_7) + calendar(WARD_7.replace("0310", "0311"))
    found = read_events(raw, "r.ics", zone="UTC", first=FIRST, last=LAST).events
    assert [event.day.day for event in found] == [10, 11]


@pytest.mark.parametrize(
    ("events", "said"),
    [
        ((), "it has no event from 2027-02-14 to 2027-06-08; nothing changed"),
        ((WARD_7,), "no event was recognised as a shift; nothing changed"),
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
    wrapped = calendar(WARD_7).replace(b"Ward 7 clinic", raw)
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
    first.write_bytes(calendar(NIGHTS, WARD_7))
    day = ["--as-of", "2027-02-14"]
    words = ["--base", str(root), "rota", str(first), "--word", "ward 7 clinic=late", *day]
    done = CliRunner().invoke(main, words)
    assert done.exit_code == 0, done.stderr
    assert done.stdout.endswith("4 days set in study.yaml\n")
    second = root.parent / "b.ics"
    second.write_bytes(calendar(WARD_7.replace("0310", "0311")))
    again = CliRunner().invoke(main, ["--base", str(root), "rota", str(second), *day])
    assert again.stdout == "2027-03-11  late\n1 day set in study.yaml\n"
    text = (root / "study.yaml").read_text(encoding="utf-8")
    assert text.startswith(study)
    rota = parse_study(text, "study.yaml")[0].rota
    assert rota is not None
    assert dict(rota.exceptions)[date(2027, 3, 11)] == "late"


def test_a_shift_that_the_department_removes_goes(base: Callable[..., Path]) -> None:
    """The same calendar again replaces what it brought, the last shift as well; days of another
    calendar and days written by hand stay; undo brings all of it back.
    """
    root = base({"study.yaml": "rota:\n  exceptions:\n    2027-03-22: off  # swapped\n"})
    file, other = root.parent / "ward.ics", root.parent / "course.ics"
    duty = "DTSTART:202703{0}T200000\nDTEND:202703{1}T083000\nSUMMARY:Night"
    head = ["--base", str(root), "--as-of", "2027-02-14"]

    def days() -> dict[int, str]:
        text = (root / "study.yaml").read_text(encoding="utf-8")
        rota = parse_study(text, "study.yaml")[0].rota
        return {day.day: shift for day, shift in rota.exceptions} if rota else {}

    other.write_bytes(calendar("DTSTART;VALUE=DATE:20270318\nSUMMARY:Teaching day"))
    file.write_bytes(calendar(duty.format(15, 16), duty.format(16, 17), duty.format(25, 26)))
    for path in (other, file):
        assert CliRunner().invoke(main, ["rota", str(path), *head]).exit_code == 0
    copy = root.parent / "ward (1).ics"
    copy.write_bytes(calendar(duty.format(15, 16), duty.format(25, 26) + "\nSTATUS:CANCELLED"))
    done = CliRunner().invoke(main, ["rota", str(copy), *head])
    assert "2027-03-16  night is no longer in it: removed\n" in done.stdout
    assert done.stdout.endswith("1 day set in study.yaml, 2 removed\n")
    assert days() == {15: "night", 18: "course", 22: "off"}
    copy.write_bytes(calendar())
    done = CliRunner().invoke(main, ["rota", str(copy), *head])
    assert done.stdout.endswith("0 days set in study.yaml, 1 removed\n")
    assert CliRunner().invoke(main, ["undo", "--base", str(root)]).exit_code == 0
    assert days() == {15: "night", 18: "course", 22: "off"}


@pytest.mark.parametrize(
    ("names", "copy"),
    [
        (("ward", "ward-2"), True),
        (("ward", "ward (2)"), True),
        (("ward (1)", "ward (2)"), True),
        (("ward 7", "ward 8"), False),
        (("rota-2026", "rota-2027"), False),
        (("april1", "april2"), False),
    ],
)
def test_only_a_copy_of_a_calendar_takes_its_days_away(
    base: Callable[..., Path], names: tuple[str, str], copy: bool
) -> None:
    """A browser numbers copies; wards, years and parts of a month have numbers of their own."""
    root = base()
    for name, day in zip(names, (20, 21), strict=True):
        file = root.parent / f"{name}.ics"
        file.write_bytes(calendar(f"DTSTART;VALUE=DATE:202703{day}\nSUMMARY:Annual leave"))
        words = ["rota", str(file), "--base", str(root), "--as-of", "2027-02-14"]
        assert CliRunner().invoke(main, words).exit_code == 0
    first = root.parent / f"{names[0]}.ics"
    first.write_bytes(calendar("DTSTART;VALUE=DATE:20270319\nSUMMARY:Annual leave"))
    CliRunner().invoke(main, ["rota", str(first), "--base", str(root), "--as-of", "2027-02-14"])
    rota = parse_study((root / "study.yaml").read_text(encoding="utf-8"), "study.yaml")[0].rota
    assert rota is not None
    assert [day.day for day, _ in rota.exceptions] == ([19] if copy else [19, 21])


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


ROTAS = {
    "01-cancelled-events": "3 long",
    "02-cancelling-method": "",
    "03-one-of-a-series-cancelled": "1 night, 3 night, 4 night",
    "04-quoted-zone": "32 night",
    "05-windows-zone": "32 long, 33 day",
    "06-own-zone": "32 day",
    "07-leave-and-rest": "8 leave, 9 leave, 10 off, 11 off, 12 off",
    "08-weekend-stay": "13 long, 14 long",
    "09-unknown-and-broken": "4 night",
    "10-duration-and-fold": "1 night, 3 night, 4 day",
}
"""Days of March 2027, April going on from 32, and their shifts, by hand; 08:00 to 17:00 in London
is 09:00 to 18:00 in Berlin."""


@pytest.mark.parametrize("name", ROTAS)
def test_a_calendar_file_is_read_as_by_hand(name: str) -> None:
    """Cancelled events, time zones in every form, leave, stays, broken events and folded lines."""
    raw = (Path(__file__).parent / "rotas" / f"{name}.ics").read_bytes()
    found = read_events(raw, name, zone="Europe/London", first=FIRST, last=LAST)
    taken = shifts_of(found.events, name, STARTING_SHIFTS, {})
    days = [f"{(day - date(2027, 2, 28)).days} {shift}" for day, shift in taken.days]
    assert ", ".join(days) == ROTAS[name]
    named = [problem.place.line for problem in (*found.problems, *taken.problems)]
    assert named == ([10, 18, 0] if name.startswith("09") else [])


@pytest.mark.parametrize(
    ("zone", "moment", "clock"),
    [
        ("America/New_York", "20270410T080000", 8),
        ("America/New_York", "20270410T080000Z", 4),
        ("Asia/Tokyo", "20270410T080000Z", 17),
    ],
)
def test_a_moment_without_a_zone_is_by_the_doctors_clock(
    zone: str, moment: str, clock: int
) -> None:
    """In April New York is four hours behind UTC, and Tokyo nine ahead."""
    raw = calendar(f"DTSTART:{moment}\nDURATION:PT2H\nSUMMARY:Day")
    (event,) = read_events(raw, "r.ics", zone=zone, first=FIRST, last=LAST).events
    assert event.hours == (time(clock), time(clock + 2))


def test_an_event_without_an_end_has_no_hours() -> None:
    """Nor has one that ends as it begins; both are of their day."""
    for end in ("", "\nDTEND:20270310T080000"):
        (event,) = read(f"DTSTART:20270310T080000{end}\nSUMMARY:Day")
        assert (event.day, event.hours) == (date(2027, 3, 10), None)


def test_both_ends_of_the_days_asked_for_belong_to_them() -> None:
    """The days before and after do not."""
    days = ("20270213", "20270214", "20270511", "20270512")
    found = read(*(f"DTSTART;VALUE=DATE:{day}\nSUMMARY:Day" for day in days))
    assert [event.day for event in found] == [FIRST, LAST]


def test_a_stay_has_at_most_a_leap_year_of_days() -> None:
    """366; what lasts longer is a slip of the year."""
    raw = calendar("DTSTART;VALUE=DATE:20260101\nDTEND;VALUE=DATE:20270701\nSUMMARY:Leave")
    found = read_events(raw, "r.ics", zone="UTC", first=date(2026, 1, 1), last=LAST).events
    assert (len(found), found[-1].day) == (366, date(2027, 1, 1))


def test_the_usual_limits_are_5_000_events_and_700_series() -> None:
    """Fourteen stays of 366 days are 5,124 events, thirteen 4,758."""
    stay = "DTSTART;VALUE=DATE:20260101\nDTEND;VALUE=DATE:20270701\nSUMMARY:Leave {}"
    for count, fits in ((13, True), (14, False)):
        raw = calendar(*(stay.format(n) for n in range(count)))
        try:
            found = read_events(raw, "r.ics", zone="UTC", first=date(2026, 1, 1), last=LAST).events
        except FormatError:
            assert not fits
        else:
            assert len(found) == 366 * count
    series = "DTSTART;VALUE=DATE:20270310\nRRULE:FREQ=DAILY\nSUMMARY:Night"
    with pytest.raises(FormatError, match="more than 700 events that repeat"):
        read(*[series] * 701)


@pytest.mark.parametrize(("every", "days"), [("", [10, 17]), (";INTERVAL=1", [10, 17])])
def test_a_series_may_name_its_interval(every: str, days: list[int]) -> None:
    """One is what it is without a name (RFC 5545, section 3.3.10)."""
    rule = f"RRULE:FREQ=WEEKLY{every};COUNT=2"
    found = read(f"DTSTART;VALUE=DATE:20270310\n{rule}\nSUMMARY:Night")
    assert [event.day.day for event in found] == days


def test_names_and_words_may_be_in_small_letters() -> None:
    """RFC 5545, section 2: they have no case. A title keeps its own."""
    raw = calendar("DTSTART;VALUE=DATE:20270310\nSUMMARY:Ward 7")
    found = read_events(
        raw.lower().replace(b"ward", b"Ward"), "r.ics", zone="UTC", first=FIRST, last=LAST
    )
    assert [(event.words, event.day.day) for event in found.events] == [("Ward 7", 10)]


@pytest.mark.parametrize(
    ("line", "count"), [("METHOD:CANCEL", 0), ("METHOD:PUBLISH", 1), ("X-WR-CALNAME:Cancel", 1)]
)
def test_a_calendar_of_cancellations_sets_no_day(line: str, count: int) -> None:
    """By its method alone (RFC 5546, section 3.2.5)."""
    raw = calendar(WARD_7).replace(b"VERSION:2.0", f"VERSION:2.0\r\n{line}".encode())
    found = read_events(raw, "r.ics", zone="UTC", first=FIRST, last=LAST).events
    assert len(found) == count


def test_a_last_day_without_a_time_is_the_last_day() -> None:
    """RFC 5545, 3.3.10: UNTIL is within the series, and ought to be of the type of DTSTART."""
    shift = (
        "DTSTART;TZID=Europe/London:20270401T083000\nDURATION:PT9H\nSUMMARY:Day\nRRULE:FREQ=DAILY"
    )
    whole = [event.day.day for event in read(f"{shift};UNTIL=20270403")]
    assert whole == [1, 2, 3]
    assert [event.day.day for event in read(f"{shift};UNTIL=20270403T000000Z")] == [1, 2]
    leave = "DTSTART;VALUE=DATE:20270401\nSUMMARY:Leave\nRRULE:FREQ=DAILY;UNTIL=20270402"
    assert [event.day.day for event in read(leave)] == [1, 2]


def one_uid(*events: str) -> list[tuple[int, str]]:
    """Day and title of events that all have one UID."""
    raw = re.sub(rb"UID:\d+", b"UID:rota", calendar(*events))
    found = read_events(raw, "r.ics", zone="Europe/London", first=FIRST, last=LAST).events
    return [(event.day.day, event.words) for event in found]


def test_no_shift_is_lost_where_all_have_one_uid() -> None:
    """Two events are versions of one only where their SEQUENCE differs (RFC 5546, 2.1.5)."""
    day, night = "DTSTART:20270401T083000\nSUMMARY:Day", "DTSTART:20270402T203000\nSUMMARY:Night"
    assert one_uid(day, night, day) == [(1, "Day"), (2, "Night")]
    assert one_uid(f"{day}\nSEQUENCE:0", f"{night}\nSEQUENCE:1") == [(2, "Night")]


def test_a_moved_shift_of_a_series_stays_with_it() -> None:
    """An event with a RECURRENCE-ID is one of the series, not another."""
    series = "DTSTART:20270401T083000\nDURATION:PT9H\nSUMMARY:Day\nRRULE:FREQ=DAILY;COUNT=2"
    moved = "RECURRENCE-ID:20270402T083000\nDTSTART:20270405T083000\nDURATION:PT9H\nSUMMARY:Late"
    assert one_uid(series, moved) == [(1, "Day"), (5, "Late")]
