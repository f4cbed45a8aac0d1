"""Every number of study.yaml and exam.yaml: its default, and the least and the most it may be."""

from __future__ import annotations

import re
from dataclasses import asdict, replace
from datetime import date, time
from pathlib import Path

import pytest

import kb.formats.study
from kb.core.errors import FormatError
from kb.core.ids import AreaId
from kb.core.settings import PlanSettings, RestLimits, Study
from kb.formats.exam import parse_exam, templates
from kb.formats.rota import format_week
from kb.formats.study import format_sources, format_study, parse_study, with_columns

LIMITS = {
    "rest": {
        "hours_between": (0, 24),
        "between_nights_minutes": (0, 480),
        "after_nights_fraction": (0, 1),
        "free_after_nights": (0, 14),
        "free_hours_after_nights": (0, 168),
        "free_after_long_days": (0, 14),
        "free_hours_after_long_days": (0, 168),
        "free_days_a_week": (0, 6),
        "duty_hours": (0, 48),
        "nights_in_a_row": (1, 31),
        "long_days_in_a_row": (1, 31),
        "shifts_in_a_row": (1, 31),
        "hours_after_nights": (0, 168),
        "hours_after_long_days": (0, 168),
        "rest_hours_a_week": (0, 168),
        "hours_in_seven_days": (0, 168),
        "average_week_hours": (0, 168),
    },
    "plan": {
        "second_fraction": (0, 1),
        "paper_day_minutes": (0, 720),
        "reading_fraction": (0, 0.9),
        "last_look_days": (1, 30),
        "seconds": (0, 3600),
        "review_seconds": (0, 3600),
        "break_after_minutes": (10, 480),
        "break_minutes": (1, 120),
    },
    "reading": {"words_per_minute": (20, 2000), "opening_seconds": (0, 600)},
    "shift": {"study_minutes": (0, 960), "paper_day_minutes": (0, 720)},
    "exam": {
        "papers": (1, 20),
        "minutes": (1, 1440),
        "options": (2, 10),
        "pass_mark": (0.01, 1),
        "pass_mark_sd": (0, 0.5),
    },
}
WEEK = "  starts: 2027-01-04\n  weeks: [[day, day, day, day, day, off, off]]\n"
WRITTEN = {
    "rest": f"rota:\n{WEEK}  rest: {{}}\n",
    "plan": "plan: {}\n",
    "reading": "reading: {}\n",
    "shift": "rota:\n  exceptions: {{2027-01-04: x}}\n  shifts: {{x: {}}}\n",
}
CASES = [(where, key, *span) for where, keys in LIMITS.items() for key, span in keys.items()]


def errors(where: str, key: str, value: float) -> list[str]:
    """What is said of a value, cautions left out."""
    if where == "exam":
        text = f"date: 2027-05-11\nblueprint: [{{area: a, items: 9}}]\n{key}: {value}\n"
        _, problems = parse_exam(text, "exam.yaml")
    else:
        text = WRITTEN[where].replace("{{", "{").replace("}}", "}")
        at = text.rindex("{}")
        text = f"{text[:at]}{{{key}: {value}}}{text[at + 2 :]}"
        _, problems = parse_study(text, "study.yaml")
    return [problem.code for problem in problems if problem.severity == "error"]


@pytest.mark.parametrize(("where", "key", "low", "high"), CASES)
def test_a_number_has_a_least_and_a_most(where: str, key: str, low: float, high: float) -> None:
    """Both are taken, and a hundredth or one beyond is not."""
    step = 0.01 if isinstance(high, float) or "fraction" in key or "mark" in key else 1
    assert errors(where, key, low) == errors(where, key, high) == []
    assert errors(where, key, round(high + step, 2)) == ["bad-number"]
    assert errors(where, key, round(low - step, 2)) == ["bad-number"]


@pytest.mark.parametrize(
    ("where", "key", "span"),
    [
        ("shift", "study_minutes", "a whole number from 0 to 960"),
        ("plan", "reading_fraction", "a number from 0 to 0.9"),
        ("reading", "words_per_minute", "a number from 20 to 2000"),
    ],
)
def test_a_number_outside_its_limits_is_told_with_both(where: str, key: str, span: str) -> None:
    """In the hint too."""
    text = WRITTEN[where].replace("{{", "{").replace("}}", "}")
    at = text.rindex("{}")
    _, problems = parse_study(f"{text[:at]}{{{key}: 9999}}{text[at + 2 :]}", "study.yaml")
    assert [p.message for p in problems] == [f"{key}: '9999' is not {span}"]
    assert [p.hint for p in problems] == [f"write {span}"]


def test_a_new_study_file_names_the_defaults() -> None:
    """With the # of each line removed, the sample means what a file without it means."""
    sample = Path(kb.formats.study.__file__).with_name("new_study.yaml").read_text("utf-8")
    plain = re.sub(r"^#(?=[a-z ]+[a-z0-9_-]+:|  )", "", sample, flags=re.M)
    rest = plain[plain.index("  rest:") : plain.index("# How to plan")]
    text = f"rota:\n{WEEK}{rest}{plain[plain.index('plan:') :]}"
    study, problems = parse_study(text, "study.yaml")
    assert problems == ()
    assert study.rota is not None
    assert study.rota.rest == RestLimits()
    assert study.plan == replace(PlanSettings(), paper_start=time(9, 30))
    known = {line.split(":")[0].strip() for line in text.splitlines()}
    assert known >= {*asdict(RestLimits()), *asdict(PlanSettings())}
    new, problems = parse_study(format_study("UTC"), "study.yaml")
    assert problems == ()
    assert (new.held_back_count, new.words_per_minute, new.opening_seconds) == (500, 110, 10)
    empty, _ = parse_study("", "study.yaml")
    assert (empty.held_back_count, empty.words_per_minute, empty.opening_seconds) == (500, 110, 10)
    assert (empty.timezone, empty.day_first, empty.chance_order) == ("UTC", True, False)
    assert (empty.rota, empty.plan, empty.sources) == (None, PlanSettings(), ())
    assert Study().words_per_minute == 110


def test_an_exam_without_numbers_has_the_usual_ones() -> None:
    """Two papers of 180 minutes and five answers; no pass mark is guessed."""
    exam, problems = parse_exam("date: 2027-05-11\nblueprint: [{area: a, items: 9}]\n", "x")
    assert exam is not None
    assert problems == ()
    assert (exam.paper_count, exam.paper_minutes, exam.option_count) == (2, 180, 5)
    assert (exam.pass_fraction, exam.pass_sd_fraction, exam.name) == (None, 0.0, "the exam")


@pytest.mark.parametrize(
    ("text", "codes"),
    [
        ("blueprint: [{area: a, items: 9}]\n", ["no-exam-date"]),
        ("date: 2027-05-11\n", ["no-blueprint"]),
        ("date: 2027-05-11\nblueprint: [{area: a}]\n", ["no-blueprint"]),
        ("date: soon\nblueprint: [{area: a, items: 9}]\n", ["bad-date"]),
        (
            "date: 2027-05-11\nblueprint: [{area: a, items: 10001}]\n",
            ["bad-number", "no-blueprint"],
        ),
        ("date: 2027-05-11\nblueprint: [{items: 9}]\n", ["bad-area", "no-blueprint"]),
    ],
)
def test_without_a_day_or_items_there_is_no_exam(text: str, codes: list[str]) -> None:
    """Each lack is told once."""
    exam, problems = parse_exam(text, "exam.yaml")
    assert exam is None
    assert [problem.code for problem in problems] == codes


def test_blueprints_to_start_from_have_two_hundred_items() -> None:
    """Each, and a name for every area."""
    for areas in templates().values():
        assert sum(area.item_count for area in areas) == 200
        assert all(area.name and area.id for area in areas)


def test_shifts_known_without_being_declared() -> None:
    """Their hours and minutes of study (common practice, no source)."""
    study, _ = parse_study(WRITTEN["rest"].replace("  rest: {}\n", ""), "study.yaml")
    assert study.rota is not None
    known = {
        s.name: (f"{s.start:%H:%M}-{s.end:%H:%M}" if s.start and s.end else "", s.study_minutes)
        for s in study.rota.shifts
    }
    assert known == {
        "day": ("08:00-17:00", 120),
        "long": ("08:00-20:30", 30),
        "late": ("13:00-21:30", 90),
        "night": ("20:00-08:30", 0),
        "course": ("09:00-17:00", 60),
        "off": ("", 240),
        "leave": ("", 300),
        "holiday": ("", 0),
    }


@pytest.mark.parametrize(
    ("hours", "minutes"),
    [
        ('{from: "08:00", to: "18:00"}', 120),
        ('{from: "08:00", to: "18:01"}', 30),
        ('{from: "08:30", to: "18:15"}', 120),
        ('{from: "08:00", to: "09:30"}', 120),
        ('{from: "08:00", to: "16:00"}', 120),
        ('{from: "20:00", to: "08:00"}', 0),
        ('{from: "08:00", to: "08:00"}', 0),
        ("{}", 240),
    ],
)
def test_a_shift_of_ones_own_starts_from_the_usual_minutes(hours: str, minutes: int) -> None:
    """None on a night, half an hour on a day of more than ten hours, two hours on others."""
    text = f"rota:\n  exceptions: {{2027-01-04: x}}\n  shifts: {{x: {hours}}}\n"
    study, problems = parse_study(text, "study.yaml")
    assert problems == ()
    assert study.rota is not None
    assert study.rota.shifts[-1].study_minutes == minutes


@pytest.mark.parametrize(("days", "taken"), [(0, 1), (1, 2), (366, 367), (367, 0), (-1, 0)])
def test_a_span_of_days_is_at_most_a_year(days: int, taken: int) -> None:
    """Both ends are in it; a longer one, or one that ends before it starts, is no span."""
    last = date.fromordinal(date(2027, 2, 1).toordinal() + days)
    text = f"rota:\n  exceptions:\n    2027-01-01: off\n    2027-02-01 until {last}: leave\n"
    study, problems = parse_study(text, "study.yaml")
    assert study.rota is not None
    assert sum(name == "leave" for _, name in study.rota.exceptions) == taken
    assert [problem.code for problem in problems] == ([] if taken else ["bad-date"])


def test_weeks_are_written_seven_days_a_line() -> None:
    """With the minutes that were given, and none that were not."""
    fortnight = ["day"] * 5 + ["off"] * 2 + ["night"] * 4 + ["off"] * 3
    text = format_week(fortnight, date(2027, 1, 4), 200, 100)
    assert text == (
        "rota:\n  starts: 2027-01-04\n  shifts:\n"
        '    day: {from: "08:00", to: "17:00", study_minutes: 100}\n'
        "    off: {study_minutes: 200}\n"
        "  weeks:\n"
        "    - [day, day, day, day, day, off, off]\n"
        "    - [night, night, night, night, off, off, off]\n\n"
    )
    assert "shifts" not in format_week(fortnight, date(2027, 1, 4), None, None)
    study, problems = parse_study(text, "study.yaml")
    assert problems == ()
    assert study.rota is not None
    assert len(study.rota.weeks) == 2


def test_sources_are_written_with_the_kind_that_their_name_says() -> None:
    """A paper, a mock, and banks, one of which only begins like a paper."""
    text = format_sources({"north": 2800, "paper-1": 200, "mock2": 100, "papers": 50})
    study, problems = parse_study(text, "study.yaml")
    assert problems == ()
    assert [(s.id, s.kind, s.item_count) for s in study.sources] == [
        ("north", "bank", 2800),
        ("paper-1", "paper", 200),
        ("mock2", "mock", 100),
        ("papers", "bank", 50),
    ]
    assert format_sources({}) == ""


@pytest.mark.parametrize(
    ("shares", "found"),
    [
        ("{1: north:2001-2050}", [(1, "north", 2001, 2050)]),
        ("{51: 'North : 7'}", [(51, "north", 7, 7)]),
        ("{a: north:1-2}", []),
        ("{1: north}", []),
        ("{1: ':1-2'}", []),
    ],
)
def test_what_a_paper_shares_with_a_bank(
    shares: str, found: list[tuple[int, str, int, int]]
) -> None:
    """The first item and the bank's; anything else is told."""
    text = f"sources:\n- {{source: p, kind: paper, shares: {shares}}}\n"
    study, problems = parse_study(text, "study.yaml")
    own = [(s.own_first, s.source, s.first, s.last) for s in study.sources[0].shares]
    assert own == found
    assert [(p.code, p.place.line) for p in problems] == ([] if found else [("bad-share", 2)])


@pytest.mark.parametrize(
    ("spans", "codes"),
    [
        ("{1-9: x, 10-12: y}", []),
        ("{' 1-9 ': x, 10: y}", []),
        ("{1-9: x, 9-12: y}", ["bad-range"]),
        ("{10-12: y, 1-10: x}", ["bad-range"]),
        ("{5-5: x}", []),
        ("{6-5: x}", ["bad-range"]),
        ("{x: y}", ["bad-range"]),
    ],
)
def test_ranges_touch_but_do_not_overlap(spans: str, codes: list[str]) -> None:
    """They are kept in the order of their items."""
    text = f"sources:\n- {{source: n, areas: {spans}}}\n"
    study, problems = parse_study(text, "study.yaml")
    assert [problem.code for problem in problems] == codes
    firsts = [span.first for span in study.sources[0].ranges]
    assert firsts == sorted(firsts)


def test_the_area_of_an_item_outside_digits_is_not_guessed() -> None:
    """Digits of another script are no number of an item."""
    study, _ = parse_study("sources:\n- {source: n, areas: {1-9: X}}\n", "study.yaml")
    assert study.sources[0].item_count == 0
    found = [study.sources[0].area_of(item) for item in ("1", "9", "0", "10", "\u0663", "")]
    assert found == [AreaId("x"), AreaId("x"), None, None, None, None]


def test_a_source_stands_once_and_its_columns_are_kept() -> None:
    """The first counts; columns that a table cannot have are told."""
    text = (
        "sources:\n- {source: n, items: 1}\n- {source: N, items: 2}\n"
        "tables:\n  North: {item: Nr, colour: C, 'question': Q}\n"
    )
    study, problems = parse_study(text, "study.yaml")
    assert [(source.id, source.item_count) for source in study.sources] == [("n", 1)]
    assert [(p.code, p.place.line) for p in problems] == [
        ("duplicate-source", 3),
        ("unknown-setting", 5),
    ]
    assert [(t.source, t.columns) for t in study.tables] == [
        ("north", (("item", "Nr"), ("question", "Q")))
    ]


def test_columns_are_remembered_in_a_file_that_can_be_read_only() -> None:
    """All else of it stays."""
    text = with_columns(
        "day_first: no # mine\n", "study.yaml", "north", (("item", "Question, no"),)
    )
    assert text == "day_first: no # mine\ntables:\n  north:\n    item: 'Question, no'\n"
    with pytest.raises(FormatError) as caught:
        with_columns("a: @x\n", "study.yaml", "north", (("item", "Nr"),))
    assert caught.value.place is not None
    assert str(caught.value.place) == "study.yaml:1"


@pytest.mark.parametrize(
    ("day", "fits"),
    [("1990-01-01", True), ("1989-12-31", False), ("2200-12-31", True), ("2201-01-01", False)],
)
def test_a_day_of_a_setting_lies_in_living_memory_or_soon(day: str, fits: bool) -> None:
    """From 1990 to 2200: outside, no plan could be made."""
    exam, _ = parse_exam(f"date: {day}\nblueprint: [{{area: a, items: 9}}]\n", "exam.yaml")
    assert (exam is not None) == fits


def test_a_new_study_file_takes_sources_and_a_rota() -> None:
    """Before the samples of both, which stay as comments."""
    rota = format_week(["day"] * 5 + ["off"] * 2, date(2027, 1, 4), None, None)
    text = format_study("Europe/London", format_sources({"north": 20}), rota)
    study, problems = parse_study(text, "study.yaml")
    assert problems == ()
    assert study.timezone == "Europe/London"
    assert [source.id for source in study.sources] == ["north"]
    assert study.rota is not None
    assert text.count("#sources:") == text.count("#rota:") == 1


@pytest.mark.parametrize(("minutes", "fits"), [(0, True), (1, False), (9, False), (10, True)])
def test_a_break_comes_after_ten_minutes_at_the_soonest(minutes: int, fits: bool) -> None:
    """Or never: 0 is none."""
    study, problems = parse_study(f"plan: {{break_after_minutes: {minutes}}}\n", "study.yaml")
    assert study.plan.break_after_minutes == (minutes if fits else 0)
    assert [problem.code for problem in problems] == ([] if fits else ["bad-number"])


@pytest.mark.parametrize(
    ("written", "code"), [("none", ""), ("NONE", ""), ("ie", "IE"), ("GB-ENG", "GB-ENG")]
)
def test_bank_holidays_may_be_none(written: str, code: str) -> None:
    """As they are where nothing is set."""
    study, problems = parse_study(f"rota:\n{WEEK}  bank_holidays: {written}\n", "study.yaml")
    assert study.rota is not None
    assert (study.rota.bank_holidays, problems) == (code, ())


def test_one_week_that_cannot_be_read_leaves_all_out() -> None:
    """Weeks follow one another, so that one fewer would move all that come later."""
    good, bad = "[day, day, day, day, day, off, off]", "[day, dya, off, off, off, off, off]"
    weeks = f"  starts: 2027-01-04\n  weeks: [{good}, {bad}]\n"
    text = f"rota:\n  exceptions: {{2027-02-01: off}}\n{weeks}"
    study, problems = parse_study(text, "study.yaml")
    assert study.rota is not None
    assert study.rota.weeks == ()
    assert [problem.code for problem in problems] == ["unknown-shift"]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("date: 2027-05-11\nitmes: 3\nblueprint: [{area: a, items: 9}]\n", 2),
        ("date: 2027-05-11\nblueprint:\n- area: a\n  items: 9\n  itmes: 3\n", 5),
        ("itmes: 3\n", 1),
        ("sources:\n- source: north\n  itmes: 3\n", 3),
        ("reading:\n  itmes: 3\n", 2),
        ("plan:\n  itmes: 3\n", 2),
        ("tables:\n  north:\n    itmes: Nr\n", 3),
        (f"rota:\n{WEEK}  itmes: 3\n", 4),
        (f"rota:\n{WEEK}  rest:\n    itmes: 3\n", 5),
        (f"rota:\n{WEEK}  shifts:\n    day:\n      itmes: 3\n", 6),
    ],
)
def test_a_setting_that_is_not_known_is_told_wherever_it_is(text: str, line: int) -> None:
    """It has no effect, so that a slip would be lost otherwise."""
    parse = parse_exam if text.startswith("date") else parse_study
    _, problems = parse(text, "x.yaml")
    assert [(p.code, p.place.line, p.severity) for p in problems] == [
        ("unknown-setting", line, "caution")
    ]


@pytest.mark.parametrize(
    ("code", "hint"),
    [("gb-enk", "did you mean GB-ENG"), ("xx", "write a country by its code"), ("gb", "")],
)
def test_a_country_that_is_not_known_is_told_with_the_nearest(code: str, hint: str) -> None:
    """A part of it by ISO 3166-2; the country as a whole is one too."""
    _, problems = parse_study(f"rota:\n{WEEK}  bank_holidays: {code}\n", "study.yaml")
    assert [problem.hint.startswith(hint) for problem in problems] == ([True] if hint else [])


@pytest.mark.parametrize(("items", "fits"), [(0, True), (10_000, True), (10_001, False)])
def test_an_area_has_up_to_ten_thousand_items(items: int, fits: bool) -> None:
    """Beside one of nine."""
    text = f"date: 2027-05-11\nblueprint: [{{area: a, items: 9}}, {{area: b, items: {items}}}]\n"
    exam, problems = parse_exam(text, "exam.yaml")
    assert exam is not None
    assert exam.item_count == 9 + (items if fits else 0)
    assert [problem.code for problem in problems] == ([] if fits else ["bad-number"])


def test_reading_settings_that_are_not_given_keep_their_defaults() -> None:
    """Chance orders nothing unless it is asked to; a rota without weeks needs no start."""
    study, problems = parse_study("reading: {opening_seconds: 5}\n", "study.yaml")
    assert (study.chance_order, study.words_per_minute, problems) == (False, 110, ())
    study, problems = parse_study("rota: {exceptions: {2027-02-01: off}}\n", "study.yaml")
    assert study.rota is not None
    assert (study.rota.starts.weekday(), problems) == (0, ())


def test_a_setting_of_the_plan_that_is_not_known_is_told() -> None:
    """With its line; a pass mark that cannot be leaves the usual one."""
    _, problems = parse_study("plan:\n  seconds: 60\n  secnds: 60\n", "study.yaml")
    assert [(p.code, p.place.line) for p in problems] == [("unknown-setting", 3)]
    text = "date: 2027-05-11\npass_mark: 61\nblueprint: [{area: a, items: 9}]\n"
    exam, problems = parse_exam(text, "exam.yaml")
    assert exam is not None
    assert (exam.pass_fraction, [p.code for p in problems]) == (0.6, ["bad-number"])
