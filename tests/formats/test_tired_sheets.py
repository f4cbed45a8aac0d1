"""Sheets as a tired doctor writes them: read as meant, or asked about, never logged otherwise."""

from __future__ import annotations

from datetime import date

import pytest

from kb.formats.answer_sheet.parser import parse_sheet
from kb.formats.answer_sheet.records import Known

KNOWN = Known(areas={}, sources=("north",), day=date(2027, 2, 14), today=date(2027, 2, 14))


def read(text: str, heading: str = "14 Jan north") -> tuple[dict[int, str], list[str]]:
    """The outcome of each item, and what was asked about."""
    sheet = parse_sheet(f"{heading}\n{text}\n", "s.txt", KNOWN)
    found = {int(a.question.partition(":")[2]): a.outcome for a in sheet.answers}
    return found, [row.text for row in sheet.left]


@pytest.mark.parametrize(
    "line",
    [
        "1-5 \u2713 6 \u2717 7-10 \u2713",
        "41x 42r 43x",
        "41 X 42 X 43 x",
        "41 x, gout 42: \u2713",
        "1:x 2:r 3:x",
        "1-x 2-r",
        "41 x through 43 x",
        "45 x and 46 wrong",
    ],
)
def test_an_item_is_never_lost_in_the_remark_of_another(line: str) -> None:
    """A remark that ends with a number and its mark may be the next answer."""
    found, asked = read(line)
    assert found == {}
    assert asked == [line]


@pytest.mark.parametrize(
    ("line", "outcomes"),
    [
        ("45: X, 46: \u2713", {45: "wrong", 46: "right"}),
        ("45 x,46 x", {45: "wrong", 46: "wrong"}),
        ("45 \u2713,46 x", {45: "right", 46: "wrong"}),
        ("41 through 43 x", {41: "wrong", 42: "wrong", 43: "wrong"}),
        ("41 thru 42 \u2713", {41: "right", 42: "right"}),
    ],
)
def test_several_items_on_a_line_are_read_one_by_one(line: str, outcomes: dict[int, str]) -> None:
    """With colons, without blanks, and as a range in words."""
    assert read(line) == (outcomes, [])


@pytest.mark.parametrize(
    "line",
    [
        "1-40 all right except 3, 17 & 22",
        "41-50 \u2713 except 43",
        "41-50 all x but 43",
        "41-50 wrong 43 45 51",
        "41-50 7/10",
        "41-50 ok but not the last",
        "1-10: RRWRRWRRRR",
        "1-5 ABCDE",
        "1-5: A B C D E",
    ],
)
def test_a_range_with_exceptions_is_asked_about(line: str) -> None:
    """Its remark may say that not all of it had one outcome."""
    found, asked = read(line)
    assert found == {}
    assert len(asked) == 1


@pytest.mark.parametrize("line", ["41-43 \u2713", "41-43 x hard block", "41-43 // 7 min each"])
def test_a_range_with_a_plain_remark_is_read(line: str) -> None:
    """And so is one whose remark is marked as such."""
    outcome = "wrong" if "x" in line else "right"
    assert read(line) == (dict.fromkeys((41, 42, 43), outcome), [])


@pytest.mark.parametrize(
    "line",
    [
        "42 wrong \u2192 right",
        "45 x (sorry, right)",
        "45 right, actually wrong",
        "45 \u2713 (x)",
        "2. B \u2717 (C)",
        "2. B \u2713",
        "2. A B C",
        "44X,45R",
        "[x] 45",
        "- [x] 45",
    ],
)
def test_two_outcomes_or_a_letter_and_a_mark_are_asked_about(line: str) -> None:
    """A correction, a letter beside a cross, and a ticked box whose tick may be a cross."""
    assert 45 not in read(line)[0]
    assert read(line)[1]


def test_a_ticked_box_is_asked_about_in_its_own_words() -> None:
    """Its cross may be the tick."""
    (problem,) = parse_sheet("14 Jan north\n- [x] 45\n", "s.txt", KNOWN).problems
    assert problem.message == "not understood: [x] 45: is the box ticked, or crossed?"


@pytest.mark.parametrize(
    ("line", "outcome"),
    [
        ("41 x give 2 x 500 mg", "wrong"),
        ("41 x gout, not pseudogout", "wrong"),
        ("41 \u2713 the heart is right of it", "right"),
        ("41 x B>C, hyperkalaemia", "wrong"),
        ("41 x 12 lead ECG first", "wrong"),
    ],
)
def test_an_ordinary_remark_is_no_answer(line: str, outcome: str) -> None:
    """Numbers and words of medicine stay in it."""
    assert read(line) == ({41: outcome}, [])


@pytest.mark.parametrize(
    "heading",
    ["tues north", "Sunday north", "Mon 14 Jan north", "2027-01-14 Fri north"],
)
def test_a_day_that_cannot_be_meant_is_asked_about(heading: str) -> None:
    """A day of the week alone, and one that the date is not.

    14 January 2027 is a Thursday: `date.weekday`, and the civil calendar.
    """
    assert read("41 x", heading) == ({}, [heading, "41 x"])


@pytest.mark.parametrize("heading", ["Thu 14 Jan north", "Thursday 14 January 2027 north"])
def test_a_day_of_the_week_that_fits_is_read(heading: str) -> None:
    """It is the date that counts."""
    assert read("41 x", heading) == ({41: "wrong"}, [])
