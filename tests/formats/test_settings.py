"""Settings and readings: what is written is understood, and what is not valid is reported."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.errors import FormatError
from kb.core.ids import AreaId, NoteId
from kb.core.model import Reading
from kb.core.settings import Area
from kb.formats.exam import check_day, format_exam, parse_exam
from kb.formats.side_logs import READINGS
from kb.formats.study import format_study, parse_study

AREAS = (
    Area(id=AreaId("cardiology"), name="Cardiology", item_count=120, topics=("valves", "a, b")),
    Area(id=AreaId("id"), name="Infection: all of it", item_count=80),
)


def test_a_new_exam_reads_back() -> None:
    """parse(format(x)) == x."""
    exam, problems = parse_exam(format_exam("The Exam: 1", date(2027, 5, 11), AREAS), "exam.yaml")
    assert problems == ()
    assert exam is not None
    assert (exam.name, exam.date, exam.areas) == ("The Exam: 1", date(2027, 5, 11), AREAS)
    assert exam.item_count == 200
    assert exam.seconds_per_item == 108


def test_an_exam_decades_ahead_is_a_slip() -> None:
    """Reported in one line with the day that was read; five years are no slip."""
    today = date(2027, 2, 14)
    check_day(date(2032, 2, 14), today, "exam.yaml")
    with pytest.raises(FormatError, match=r"exam\.yaml: .*2072-05-11, is 45 years away"):
        check_day(date(2072, 5, 11), today, "exam.yaml")


@pytest.mark.parametrize(
    ("line", "code"),
    [
        ("pass_mark: 61", "bad-number"),
        ("papers: two", "bad-number"),
        ("colour: blue", "unknown-setting"),
    ],
)
def test_an_off_value_of_the_exam_keeps_its_default(line: str, code: str) -> None:
    """One Problem with its line; the exam is there."""
    text = f"date: 2027-05-11\n{line}\nblueprint: [{{area: a, items: 200}}]\n"
    exam, problems = parse_exam(text, "exam.yaml")
    assert exam is not None
    assert exam.paper_count == 2
    assert [(p.code, p.place.line) for p in problems] == [(code, 2)]


def test_an_area_stands_once() -> None:
    """The second line of the same area is a Problem."""
    text = "date: 2027-05-11\nblueprint:\n- {area: a, items: 1}\n- {area: A, items: 2}\n"
    exam, problems = parse_exam(text, "exam.yaml")
    assert exam is not None
    assert [area.item_count for area in exam.areas] == [1]
    assert [(p.code, p.place.line) for p in problems] == [("duplicate-area", 4)]


def test_new_settings_have_no_problem() -> None:
    """What `new` writes is understood without a caution."""
    study, problems = parse_study(format_study("Europe/London"), "study.yaml")
    assert problems == ()
    assert (study.timezone, study.words_per_minute, study.day_first) == (
        "Europe/London",
        110.0,
        True,
    )


def test_a_source_tells_the_area_of_an_item() -> None:
    """Ranges are inclusive at both ends."""
    text = "sources:\n- source: North\n  items: 20\n  areas: {1-10: cardiology, 11: id}\n"
    study, problems = parse_study(text, "study.yaml")
    assert problems == ()
    source = study.source("north")
    assert source is not None
    found = [source.area_of(item) for item in ("1", "10", "11", "12", "x")]
    assert found == ["cardiology", "cardiology", "id", None, None]


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("timezone: Atlantis/Centre\n", "bad-timezone"),
        ("sources:\n- source: a b\n", "bad-source"),
        ("sources:\n- {source: a, kind: booklet}\n", "bad-value"),
        ("sources:\n- {source: a, areas: {9-1: x}}\n", "bad-range"),
        ("sources:\n- {source: a, areas: {1-9: x, 5-12: y}}\n", "bad-range"),
        ("reading: fast\n", "bad-value"),
        ("reading: {words_per_minute: 0}\n", "bad-number"),
    ],
)
def test_an_off_setting_is_said(text: str, code: str) -> None:
    """Each gets one Problem with a place."""
    _, problems = parse_study(text, "study.yaml")
    assert [p.code for p in problems] == [code]
    assert problems[0].place.line >= 1


def test_readings_read_back_and_a_bad_line_is_said() -> None:
    """parse(format(x)) == x, and a damaged neighbour is left out."""
    at = datetime(2027, 1, 3, 9, tzinfo=UTC)
    reading = Reading(id="r1", at=at, note=NoteId("a, b"), seconds=41.5)
    raw = (READINGS.header + READINGS.format(reading) + "nonsense\r\n").encode()
    found, problems = READINGS.parse(raw + b"r2,2027", "log/readings-a.csv")
    assert found == (reading,)
    assert [p.place.line for p in problems] == [3, 4]


@given(st.text(max_size=200))
def test_no_text_makes_a_settings_parser_raise(text: str) -> None:
    """Anything at all gives a value and Problems."""
    parse_exam(text, "exam.yaml")
    parse_study(text, "study.yaml")
    READINGS.parse(text.encode(), "x")


def test_an_area_without_items_has_none() -> None:
    """Its questions are not guessed."""
    text = "date: 2027-05-11\nblueprint:\n  - {area: cardiology, items: 3}\n  - area: renal\n"
    exam, _ = parse_exam(text, "exam.yaml")
    assert exam is not None
    assert [(area.id, area.item_count) for area in exam.areas] == [("cardiology", 3), ("renal", 0)]


@pytest.mark.parametrize(
    ("name", "fits"), [("acute-care", True), ("acute_care", True), ("a/b", False), ("a b", False)]
)
def test_the_name_of_an_area_is_one_word(name: str, fits: bool) -> None:
    """Letters, digits, hyphens and underscores: it names a folder."""
    exam, problems = parse_exam(
        f"date: 2027-05-11\nblueprint:\n  - {{area: {name}, items: 3}}\n", "exam.yaml"
    )
    assert (exam is not None) == fits
    assert ("bad-area" in {problem.code for problem in problems}) != fits


def test_an_exam_up_to_five_years_away_is_no_slip() -> None:
    """Five leap years of 366 days: 1,830 days, and not one more."""
    today = date(2027, 1, 1)
    check_day(today + timedelta(days=1830), today, "exam.yaml")
    with pytest.raises(FormatError, match="5 years away"):
        check_day(today + timedelta(days=1831), today, "exam.yaml")
