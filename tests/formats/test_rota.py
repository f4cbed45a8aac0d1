"""The rota and plan parts of study.yaml: what is understood, and what is said about the rest."""

from __future__ import annotations

from datetime import date, time

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from kb.core.errors import FormatError
from kb.core.ids import AreaId
from kb.core.settings import Study
from kb.formats.study import parse_study
from kb.formats.study_edits import set_calendar_days, set_entries

ROTA = """\
rota:
  starts: 2027-01-04
  shifts:
    day: {from: "08:00", to: "17:00", study_minutes: 90}
    ward: {from: "09:00", to: "21:00"}
    off: {study_minutes: 200, paper_day_minutes: 300}
  weeks:
    - [day, day, ward, day, day, off, off]
    - [Night, night, off, off, day, off, off]
  exceptions:
    2027-02-15: leave      # a long weekend
    2027-02-20 to 2027-02-22: course
  rest: {hours_between: 12, after_nights_fraction: 0.25}
  calendar_words: {ward cover: night}
  bank_holidays: gb-eng
"""


def parse(text: str) -> tuple[Study, list[str]]:
    """Settings, and problems as the person sees them."""
    study, problems = parse_study(text, "study.yaml")
    return study, [str(problem) for problem in problems]


def test_a_whole_rota() -> None:
    """Weeks, shifts of one's own, those known already, spans of days and limits are all read."""
    study, problems = parse(ROTA)
    rota = study.rota
    assert problems == []
    assert rota is not None
    assert rota.weeks[1] == ("night", "night", "off", "off", "day", "off", "off")
    shifts = {shift.name: shift for shift in rota.shifts}
    assert (shifts["day"].start, shifts["day"].study_minutes) == (time(8), 90)
    assert (shifts["ward"].study_minutes, shifts["night"].study_minutes) == (30, 0)
    assert (shifts["off"].paper_day_minutes, shifts["day"].paper_day_minutes) == (300, None)
    assert dict(rota.exceptions)[date(2027, 2, 22)] == "course"
    assert (rota.rest.hours_between, rota.rest.nights_in_a_row) == (12, 4)
    assert rota.calendar_words == (("ward cover", "night"),)
    assert rota.bank_holidays == "GB-ENG"


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("day, day, ward", "day, ward", "study.yaml:8: a week with 6 days instead of 7"),
        ("[Night,", "[Nihgt,", "study.yaml:9: the shift 'nihgt' is not declared"),
        ("2027-02-15: leave", "2027-02-30: leave", "study.yaml:11: '2027-02-30' is neither a day"),
        ("2027-02-15: leave", "2027-02-15: beach", "study.yaml:11: the shift 'beach' is not"),
        ("starts: 2027-01-04", "starts: 2027-01-05", "study.yaml:2: the rota starts on 2027-01-05"),
        ("  starts: 2027-01-04\n", "", "study.yaml:2: the rota does not say when it starts"),
        ('to: "21:00"', 'to: "25:00"', "study.yaml:5: to: '25:00' is not a time"),
        ('{from: "09:00", to: "21:00"}', '{from: "09:00"}', "study.yaml:5: the shift 'ward' has"),
        ("study_minutes: 200", "study_minutes: lots", "study.yaml:6: study_minutes: 'lots' is"),
        (
            "study_minutes: 90",
            "paper_day_minutes: 90",
            "study.yaml:4: paper_day_minutes has no effect",
        ),
        (
            "study_minutes: 90",
            "paper_day_minutes: 0",
            "study.yaml:4: paper_day_minutes has no effect",
        ),
        ("minutes: 300", "minutes: -1", "study.yaml:6: paper_day_minutes: '-1' is not"),
        ("gb-eng", "gb-lon", "study.yaml:15: bank_holidays: 'GB-LON' is not a country whose"),
        ("hours_between: 12", "hours_between: x", "study.yaml:13: hours_between: 'x' is not"),
        ("hours_between: 12", "hours_betwen: 12", "study.yaml:13: the setting 'hours_betwen' is"),
        ("ward cover: night", "ward cover: nite", "study.yaml:14: the shift 'nite' is not"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(old: str, new: str, said: str) -> None:
    """Each mistake names its line and what is wrong, and nothing is raised."""
    assert old in ROTA
    _, problems = parse(ROTA.replace(old, new))
    assert any(problem.startswith(said) for problem in problems), problems


def test_a_rota_without_a_day_is_said() -> None:
    """An empty rota is no rota."""
    study, problems = parse("rota: {shifts: {off: {study_minutes: 60}}}\n")
    assert study.rota is None
    assert problems[0].startswith("study.yaml:1: the rota has no weeks")


def test_plan_settings() -> None:
    """Settings of the plan are read; an invalid one keeps its default, with a Problem."""
    text = "plan:\n  papers: 8\n  second_fraction: 1.5\n  area_order: [Neurology]\n"
    text += "  review_seconds: 90\n"
    study, problems = parse(text)
    assert (study.plan.review_seconds, study.plan.second_fraction) == (90, 1.0)
    assert study.plan.area_order == (AreaId("neurology"),)
    assert problems[0].startswith("study.yaml:2: papers no longer has any effect on the plan")
    assert problems[1].startswith("study.yaml:3: second_fraction: '1.5' is not a number")


@given(st.text(max_size=80))
def test_no_text_makes_it_raise(text: str) -> None:
    """Whatever is under rota: gives a value and problems."""
    parse(f"rota:\n  weeks: {text}\n")
    parse(f"rota:\n  exceptions:\n    2027-01-01: {text}\nplan: {text}\n")


PLACES = [
    "",
    "timezone: UTC\n",
    "timezone: UTC",
    "rota:\n",
    "rota: {}\n",
    "rota:\n  starts: 2027-01-04\n",
    "rota:\n  exceptions:\n    2027-02-01: off   # swap\n\n# sources come next\nsources: []\n",
    "rota:\n  exceptions: {2027-02-01: off}\n",
    "rota: {starts: 2027-01-04}\n",
    "rota: {exceptions: {2027-02-01: off}, starts: 2027-01-04}\n",
    "rota:\r\n  starts: 2027-01-04\r\n  exceptions:\r\n    2027-02-01: off\r\nreserve: 5\r\n",
    "rota:\n  exceptions:\n  starts: 2027-01-04\n",
    "rota:\n  exceptions:\n    2027-02-01: off",
]


@pytest.mark.parametrize("text", PLACES)
def test_set_days_are_read_back_and_all_else_stays(text: str) -> None:
    """Days from a calendar are added or changed in place; comments and other lines stay."""
    entries = (("2027-02-01", "night"), ("2027-02-03", "leave"))
    new = set_entries(text, ("rota", "exceptions"), entries)
    loaded = yaml.load(new, Loader=yaml.BaseLoader)
    assert loaded["rota"]["exceptions"] == {"2027-02-01": "night", "2027-02-03": "leave"}
    before = yaml.load(text, Loader=yaml.BaseLoader) or {}
    kept = {key: value for key, value in before.items() if key != "rota"}
    assert {key: value for key, value in loaded.items() if key != "rota"} == kept
    assert new.count("#") == text.count("#")
    if "\r\n" in text:
        assert "\n" not in new.replace("\r\n", "")


@pytest.mark.parametrize("text", PLACES)
def test_a_calendar_replaces_what_it_brought_before(text: str) -> None:
    """What it no longer has goes from its first day on; other files' and own days stay."""
    days = {date(2027, 2, n): "night" for n in (3, 4, 5)}
    first = set_calendar_days(text, days, "a.ics", date(2027, 2, 3))
    other = set_calendar_days(first.text, {date(2027, 2, 7): "late"}, "b.ics", date(2027, 2, 7))
    assert (first.removed, first.kept) == ((), ())
    left = {date(2027, 2, 4): "long"}
    assert set_calendar_days(other.text, left, "a.ics", date(2027, 2, 6)).removed == ()
    last = set_calendar_days(other.text, left, "a.ics", date(2027, 2, 4))
    assert last.removed == ((date(2027, 2, 5), "night"),)
    loaded = yaml.load(last.text, Loader=yaml.BaseLoader)["rota"]["exceptions"]
    old = yaml.load(text, Loader=yaml.BaseLoader) or {}
    mine = (old.get("rota") or {}).get("exceptions") or {}
    brought = {"2027-02-03": "night", "2027-02-04": "long", "2027-02-07": "late"}
    assert loaded == mine | brought
    again = set_calendar_days(last.text, left, "a.ics", date(2027, 2, 4))
    assert (again.text, again.removed) == (last.text, ())


def test_a_day_that_the_person_noted_stays() -> None:
    """An exception with a comment of its own; one without, or of a file, takes the new shift."""
    text = (
        "rota:\n  exceptions:\n    2027-02-01: off  # swapped\n    2027-02-02: off\n"
        "    2027-02-03: off  # from b.ics\n    2027-02-01 to 2027-02-02: leave  # booked\n"
    )
    days = {date(2027, 2, n): "night" for n in (1, 2, 3)}
    done = set_calendar_days(text, days, "a.ics", date(2027, 2, 1))
    assert done.kept == ((date(2027, 2, 1), "off"),)
    assert done.set == ((date(2027, 2, 2), "night"), (date(2027, 2, 3), "night"))
    assert "2027-02-01: off  # swapped\n    2027-02-02: night  # from a.ics\n" in done.text
    same = set_calendar_days(text, {date(2027, 2, 1): "off"}, "a.ics", date(2027, 2, 1))
    assert same.kept == ()


def test_setting_the_same_again_changes_nothing() -> None:
    """Taking the same calendar in twice leaves the file as it was after the first time."""
    entries = (("2027-02-01", "night"), ("2027-02-03", "leave"))
    once = set_entries(ROTA, ("rota", "exceptions"), entries)
    assert set_entries(once, ("rota", "exceptions"), entries) == once
    assert parse(once)[1] == []


@pytest.mark.parametrize(
    ("text", "new"),
    [
        ("", "rota:\n  exceptions:\n    2027-02-01: off  # c\n"),
        ("a: b", "a: b\nrota:\n  exceptions:\n    2027-02-01: off  # c\n"),
        ("a: b\n", "a: b\nrota:\n  exceptions:\n    2027-02-01: off  # c\n"),
        ("rota:\na: b\n", "rota:\n  exceptions:\n    2027-02-01: off  # c\na: b\n"),
        ("rota: {a: b}\n", "rota:\n  a: b\n  exceptions:\n    2027-02-01: off  # c\n"),
        (
            'z: 1\nrota: {"a":[1,\n  2], exceptions: {2027-01-01: x}}  # mine\ny: 2\n',
            'z: 1\nrota:\n  "a": [1, 2]\n  exceptions:\n    2027-01-01: x  # mine\n'
            "    2027-02-01: off  # c\ny: 2\n",
        ),
        (
            "rota:\n    a: b\n",
            "rota:\n    a: b\n    exceptions:\n      2027-02-01: off  # c\n",
        ),
        (
            "rota:\n  exceptions:\n  a: b\n",
            "rota:\n  exceptions:\n    2027-02-01: off  # c\n  a: b\n",
        ),
        (
            "rota:\n  exceptions: {2027-01-01: x}\n",
            "rota:\n  exceptions:\n    2027-01-01: x\n    2027-02-01: off  # c\n",
        ),
        (
            "rota:\n  exceptions:\n    2027-02-01: x # mine\n",
            "rota:\n  exceptions:\n    2027-02-01: off # mine\n",
        ),
        (
            "rota:\n  exceptions:\n    2027-02-01: x\n",
            "rota:\n  exceptions:\n    2027-02-01: off  # c\n",
        ),
        (
            "rota:\r\n  exceptions:\r\n    2027-02-01: x\r\n",
            "rota:\r\n  exceptions:\r\n    2027-02-01: off  # c\r\n",
        ),
        (
            "a: b\n# tail\n",
            "a: b\n# tail\nrota:\n  exceptions:\n    2027-02-01: off  # c\n",
        ),
        (
            "rota:\n  exceptions: {2027-02-01: x} # mine\n",
            "rota:\n  exceptions:\n    2027-02-01: off # mine\n",
        ),
    ],
)
def test_one_day_is_set_wherever_it_belongs(text: str, new: str) -> None:
    """On a line of its own with its comment, where the file leaves room for one."""
    entries = (("2027-02-01", "off"),)
    assert set_entries(text, ("rota", "exceptions"), entries, "# c") == new


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("{rota: {starts: 2027-01-04}}\n", 1),
        ("a: b\nrota: {starts: 2027-01-04,  # Monday\n  bank_holidays: GB}\n", 2),
        ("rota:\n  exceptions: {\n    2027-02-01: off,  # swapped\n  }\n", 2),
    ],
)
def test_braces_that_leave_no_room_for_marks_are_asked_about(text: str, line: int) -> None:
    """A comment inside braces would be lost: one line says where, and what to do first."""
    with pytest.raises(FormatError) as caught:
        set_calendar_days(text, {date(2027, 2, 1): "night"}, "a.ics", date(2027, 2, 1))
    assert str(caught.value.place) == f"study.yaml:{line}"
    assert "on a line of its own" in caught.value.hint


def test_names_of_shifts_are_read_whatever_their_case() -> None:
    """In exceptions and calendar words; a setting of a shift that is not known is told."""
    text = (
        "rota:\n  exceptions: {2027-02-15: Leave}\n  calendar_words: {Ward  Cover: Night}\n"
        "  shifts: {Ward: {study_minutes: 5, minutes: 9}}\n"
    )
    study, problems = parse(text)
    assert study.rota is not None
    assert study.rota.exceptions == ((date(2027, 2, 15), "leave"),)
    assert study.rota.calendar_words == (("ward cover", "night"),)
    assert [problem.split(": ", 1)[1].splitlines()[0] for problem in problems] == [
        "the setting 'minutes' is not known and has no effect"
    ]


def test_a_rota_starts_on_the_monday_of_the_day_named() -> None:
    """Wednesday 6 January 2027 is in the week of Monday the 4th, which is told."""
    study, problems = parse(ROTA.replace("starts: 2027-01-04", "starts: 2027-01-06"))
    assert study.rota is not None
    assert study.rota.starts == date(2027, 1, 4)
    assert [problem.splitlines()[-1].strip() for problem in problems] == ["hint: write 2027-01-04"]


def test_a_shift_that_is_not_declared_is_told_with_the_nearest() -> None:
    """Or where to declare it, if there are many and none is like it."""
    many = "".join(f"    ward{n}: {{}}\n" for n in range(9))
    text = f"rota:\n  shifts:\n{many}  exceptions: {{2027-02-15: nihgt, 2027-02-16: xyz}}\n"
    hints = [problem.splitlines()[-1].strip() for problem in parse(text)[1]]
    assert hints == ["hint: did you mean night?", "hint: declare it under 'shifts:'"]


def test_days_and_words_are_kept_in_order() -> None:
    """However they are written, also in quotation marks with spaces inside."""
    text = (
        "rota:\n  exceptions:\n    2027-02-20: leave\n    ' 2027-02-15 ': off\n"
        "    '2027-02-17 to 2027-02-18 ': late\n"
        "  calendar_words: {ward: day, clinic: late, a: off}\n"
    )
    study, problems = parse(text)
    assert study.rota is not None
    assert problems == []
    days = [(day.day, shift) for day, shift in study.rota.exceptions]
    assert days == [(15, "off"), (17, "late"), (18, "late"), (20, "leave")]
    assert study.rota.calendar_words == (("a", "off"), ("clinic", "late"), ("ward", "day"))


def test_a_known_shift_is_changed_whatever_its_case() -> None:
    """What is not given stays as it is usually; there is still one shift of that name."""
    study, problems = parse("rota:\n  exceptions: {2027-02-15: off}\n  shifts: {OFF: {}}\n")
    assert study.rota is not None
    assert problems == []
    (off,) = [shift for shift in study.rota.shifts if shift.name.casefold() == "off"]
    assert (off.name, off.study_minutes, off.paper_day_minutes) == ("off", 240, None)


@pytest.mark.parametrize(
    ("minutes", "kept", "said"), [("0", 0, 0), ("720", 720, 0), ("721", None, 1)]
)
def test_a_day_off_has_its_own_minutes_for_papers(
    minutes: str, kept: int | None, said: int
) -> None:
    """None at all are a choice too."""
    study, problems = parse(ROTA.replace("paper_day_minutes: 300", f"paper_day_minutes: {minutes}"))
    assert study.rota is not None
    (off,) = [shift for shift in study.rota.shifts if shift.name == "off"]
    assert (off.paper_day_minutes, len(problems)) == (kept, said)


def test_days_of_a_calendar_are_written_in_their_order() -> None:
    """However the file has them."""
    days = {date(2027, 2, day): "night" for day in (9, 3, 5)}
    done = set_calendar_days("", days, "a.ics", date(2027, 2, 1))
    assert [day.day for day, _ in done.set] == [3, 5, 9]
    assert done.text.index("2027-02-03") < done.text.index("2027-02-05")


def test_what_a_calendar_no_longer_has_goes_from_its_first_day_on() -> None:
    """That day is among them, the day before it is not."""
    days = {date(2027, 2, day): "night" for day in (3, 4)}
    text = set_calendar_days("", days, "a.ics", date(2027, 2, 3)).text
    for first, gone in ((3, [3, 4]), (4, [4]), (5, [])):
        done = set_calendar_days(text, {}, "a.ics", date(2027, 2, first))
        assert [day.day for day, _ in done.removed] == gone
