"""Cells of a table, one kind at a time and up to their limits."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from kb.importers.cell_values import (
    CERTAINTIES,
    Reading,
    compare_options,
    find_reading,
    moment,
    parse_clock,
    parse_mark,
    parse_outcome,
    parse_reason,
    parse_seconds,
    parse_when,
    split_option,
)

DAY_FIRST, MONTH_FIRST = Reading(day_first=True), Reading(day_first=False)
COMMA = Reading(day_first=True, decimal_comma=True)


@pytest.mark.parametrize(
    ("days", "assumed", "day_first", "note"),
    [
        (["13/01/2027"], False, True, "dates day before month"),
        (["01/13/2027"], True, False, "dates month before day"),
        (["12/12/2027"], True, True, "dates day before month (assumed; day_first in study.yaml)"),
        (["12/11/2027"], False, False, "dates month before day (assumed; day_first in study.yaml)"),
        (
            ["13/01/2027", "01/13/2027"],
            True,
            True,
            "dates day before month; some are the other way round",
        ),
        (["13.1.27"], False, True, "dates day before month"),
    ],
)
def test_one_day_beyond_the_twelfth_tells_the_order(
    days: list[str], assumed: bool, day_first: bool, note: str
) -> None:
    """Twelve may be either."""
    found = find_reading(days, [], day_first=assumed)
    assert (found.day_first, found.notes) == (day_first, (note,))


def test_dates_in_one_order_only_need_no_note() -> None:
    """Nor do numbers without a comma."""
    found = find_reading(["2027-01-14"], ["1.5"], day_first=True)
    assert (found.notes, found.decimal_comma) == ((), False)
    assert find_reading([], ["1,5"], day_first=True).notes == ("decimal comma",)


@pytest.mark.parametrize(
    ("text", "day", "clock"),
    [
        ("2027-01-14", date(2027, 1, 14), None),
        ("2027/1/4 19:42", date(2027, 1, 4), time(19, 42)),
        ("14/01/27", date(2027, 1, 14), None),
        ("14 1 2027 at 7 pm", date(2027, 1, 14), time(19)),
        ("14th Jan 2027", date(2027, 1, 14), None),
        ("14-January-27, 07:05:09", date(2027, 1, 14), time(7, 5, 9)),
        ("January 14th, 2027 7.05 am", date(2027, 1, 14), time(7, 5)),
        ("2027-01-14T19:42:10.5", date(2027, 1, 14), time(19, 42, 10)),
    ],
)
def test_a_day_and_its_time(text: str, day: date, clock: time | None) -> None:
    """In any usual spelling."""
    assert parse_when(text, DAY_FIRST) == (day, clock, None)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "14/13/2027",
        "14 Foo 2027",
        "Foo 14 2027",
        "2027-02-30",
        "14/01/2027 x",
        "14/01/20271",
        "14/01",
    ],
)
def test_what_is_no_day_is_none(text: str) -> None:
    """Nor is a day with something behind it that is no time."""
    assert parse_when(text, DAY_FIRST) is None


def test_the_order_is_kept_where_both_fit() -> None:
    """3 April or 4 March."""
    assert parse_when("03/04/2026", DAY_FIRST) == (date(2026, 4, 3), None, None)
    assert parse_when("03/04/2026", MONTH_FIRST) == (date(2026, 3, 4), None, None)


@pytest.mark.parametrize(
    ("text", "clock", "minutes"),
    [
        ("0:00", time(0), None),
        ("23:59:59", time(23, 59, 59), None),
        ("24:00", time(23, 59, 59), None),
        ("24.00.00,0", time(23, 59, 59), None),
        ("1 am", time(1), None),
        ("12 am", time(0), None),
        ("12:30 p.m.", time(12, 30), None),
        ("12 noon", time(12), None),
        ("Midday", time(12), None),
        ("12:00 midnight", time(0), None),
        ("19:42\u221201:00", time(19, 42), -60),
        ("11 PM", time(23), None),
        ("19:42Z", time(19, 42), 0),
        ("19:42 UTC", time(19, 42), 0),
        ("19:42+01:00", time(19, 42), 60),
        ("19:42-0330", time(19, 42), -210),
        ("19:42 GMT+2", time(19, 42), 120),
        ("19:42+14:00", time(19, 42), 840),
    ],
)
def test_a_time_of_day_and_its_offset(text: str, clock: time, minutes: int | None) -> None:
    """The end of a day is its last second; offsets go up to 14 hours."""
    offset = None if minutes is None else timedelta(minutes=minutes)
    assert parse_clock(text) == (clock, offset)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "7",
        "0 am",
        "13 pm",
        "24:01",
        "25:00",
        "12:60",
        "12:00:60",
        "19:42+14:01",
        "19:42x",
        "1 noon",
    ],
)
def test_what_is_no_time_of_day_is_none(text: str) -> None:
    """A bare number may be anything."""
    assert parse_clock(text) is None


def test_an_offset_is_taken_off_and_the_zone_put_on() -> None:
    """Where the calendar ends there is no moment."""
    london = ZoneInfo("Europe/London")
    found = moment(date(2027, 7, 1), time(12), timedelta(hours=2), london)
    assert found == datetime(2027, 7, 1, 10, tzinfo=UTC)
    assert found is not None
    assert found.hour == 11
    assert moment(date(2027, 7, 1), time(12), None, london) == datetime(2027, 7, 1, 11, tzinfo=UTC)
    assert moment(date(9999, 12, 31), time(23), timedelta(hours=-2), london) is None


@pytest.mark.parametrize(
    ("text", "outcome"),
    [
        ("Right", "right"),
        ("1", "right"),
        ("1.0", "right"),
        ("0,00", "wrong"),
        ("10", None),
        ("", None),
    ],
)
def test_the_outcome_of_a_cell(text: str, outcome: str | None) -> None:
    """A spreadsheet writes 1 as 1.0; ten is neither."""
    assert parse_outcome(text) == outcome


@pytest.mark.parametrize(
    ("text", "negative", "paired", "outcome"),
    [
        ("yes", False, False, "right"),
        ("yes", True, False, "wrong"),
        ("No", True, False, "right"),
        ("x", True, False, "wrong"),
        ("x", False, True, "right"),
        ("x", False, False, "wrong"),
        ("wrong", True, False, "wrong"),
        ("Right", True, False, "right"),
        ("blank", True, False, "blank"),
        ("-", True, False, None),
        ("ok", True, False, None),
    ],
)
def test_a_mark_in_a_column_for_right_or_for_wrong(
    text: str, negative: bool, paired: bool, outcome: str | None
) -> None:
    """Under Wrong, yes is wrong; a cross beside the opposite column only marks the column."""
    assert parse_mark(text, negative=negative, paired=paired) == outcome


@pytest.mark.parametrize(
    ("text", "letter", "words"),
    [
        ("b", "B", ""),
        ("B) Gout", "B", "Gout"),
        ("(c)", "C", ""),
        ("Option D: gout", "D", "gout"),
        ("e - gout", "E", "gout"),
        ("K", "", "K"),
        ("C difficile", "", "C difficile"),
        ("", "", ""),
    ],
)
def test_an_option_has_a_letter_and_words(text: str, letter: str, words: str) -> None:
    """A to J."""
    assert split_option(text) == (letter, words)


@pytest.mark.parametrize(
    ("chosen", "key", "lettered", "outcome"),
    [
        ("", "B", True, "blank"),
        ("b", "B", True, "right"),
        ("B", "C", True, "wrong"),
        ("B) Gout", "B", True, "right"),
        ("B) Gout", "B) Sepsis", True, None),
        ("B) Gout", "C) Gout", True, "wrong"),
        ("Gout", "gout", False, "right"),
        ("Gout", "Sepsis", False, "wrong"),
        ("B", "Sepsis", False, None),
        ("Gout", "B", False, None),
    ],
)
def test_the_option_chosen_against_the_key(
    chosen: str, key: str, lettered: bool, outcome: str | None
) -> None:
    """A letter against words may mean either."""
    assert compare_options(chosen, key, lettered=lettered) == outcome


@pytest.mark.parametrize(
    ("text", "reading", "seconds"),
    [
        ("62", DAY_FIRST, 62),
        ("62.5 s", DAY_FIRST, 62.5),
        ("62,5", COMMA, 62.5),
        ("1,200", DAY_FIRST, 1200),
        ("1.200", COMMA, 1200),
        ("1:02", DAY_FIRST, 62),
        ("1:02.5", DAY_FIRST, 62.5),
        ("1:02,5", DAY_FIRST, 62.5),
        ("1:00:02", DAY_FIRST, 3602),
        ("1 m 2 s", DAY_FIRST, 62),
        ("2 minutes", DAY_FIRST, 120),
        ("0", DAY_FIRST, 0),
        ("99999", DAY_FIRST, 99999),
        ("100000", DAY_FIRST, None),
        ("-1", DAY_FIRST, None),
        ("", DAY_FIRST, None),
        ("s", DAY_FIRST, None),
        (".", DAY_FIRST, None),
    ],
)
def test_how_long_an_answer_took(text: str, reading: Reading, seconds: float | None) -> None:
    """In seconds or minutes, below 100,000 s."""
    assert parse_seconds(text, reading) == seconds


def test_reasons_with_spaces_or_hyphens() -> None:
    """Any case; another word is none."""
    assert [parse_reason(text) for text in ("Two  left", "two-left", "rushed", "late", "")] == [
        *("two-left", "two-left", "rushed", None, None)
    ]


@pytest.mark.parametrize(
    ("numbers", "comma"),
    [
        (["1,5", "2.5"], False),
        (["62", "1,5"], True),
        (["1,500", "62"], False),
        (["1.500,5", "62"], True),
        (["1,5", "3,25"], True),
        (["1,500", "2,5"], True),
    ],
)
def test_one_cell_tells_what_a_comma_is(numbers: list[str], comma: bool) -> None:
    """A point in any cell is the decimal sign, unless a comma follows it in the cell; three digits
    after a comma are thousands.
    """
    assert find_reading([], numbers, day_first=True).decimal_comma is comma


@pytest.mark.parametrize(
    ("level", "words"),
    [
        (1, "1, low, guess, guessed, unsure, not sure"),
        (2, "2, medium, mid, fairly sure, moderate"),
        (3, "3, high, sure, certain, very sure"),
    ],
)
def test_words_for_a_certainty(level: int, words: str) -> None:
    """Three levels, as in certainty-based marking; the words are common ones, no source."""
    assert {CERTAINTIES[word] for word in words.split(", ")} == {level}
