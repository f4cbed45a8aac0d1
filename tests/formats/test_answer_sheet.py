"""The answer sheet: what it means, what is left, and that no line is misread."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sheet_writer import format_codes, format_sheet

from kb.core.errors import Problem
from kb.core.ids import OUTCOMES, REASONS, AreaId, QuestionId
from kb.formats.answer_sheet.answer_codes import Codes, read_codes, tidy
from kb.formats.answer_sheet.parser import format_left, parse_sheet
from kb.formats.answer_sheet.records import Heading, Known, SheetLine

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kb.formats.answer_sheet.records import Sheet

CASES = Path(__file__).parent.parent / "golden" / "sheet"
CORPUS = Path(__file__).parent.parent / "corpus" / "sheet"
CASE = re.compile(
    r"^## (?P<title>[^\n]*)\n```\n(?P<input>.*?)```\n=>\n```\n(?P<expected>.*?)```$", re.M | re.S
)
KNOWN = Known(
    areas={
        "cardiology": AreaId("cardiology"),
        "nephrology": AreaId("nephrology"),
        "infectious-diseases": AreaId("infectious-diseases"),
        "infectious diseases": AreaId("infectious-diseases"),
    },
    sources=("north", "harbour", "paper-1"),
    day=date(2027, 2, 14),
    today=date(2027, 2, 14),
)


def cases() -> Iterator[pytest.param]:
    """Every case of the golden files; its id is the file and line."""
    for path in sorted(CASES.glob("*.md")):
        text = path.read_text(encoding="utf-8")
        for match in CASE.finditer(text):
            line = text[: match.start()].count("\n") + 1
            yield pytest.param(path, match["title"], id=f"{path.name}:{line}")


def told(sheet: Sheet) -> str:
    """A sheet in words: an answer a line, then what was left and why."""
    lines = []
    for answer in sheet.answers:
        head = answer.heading
        change = f"{answer.chosen}>{answer.key}" if answer.key else ""
        parts = [
            str(head.day or "no-date"),
            answer.question,
            head.area,
            head.round,
            answer.outcome,
            f"{answer.first}/{change}" if answer.first else change,
            f"certainty={answer.certainty}" if answer.certainty else "",
            f"seconds={answer.seconds:g}" if answer.seconds is not None else "",
            answer.reason,
            f"'{answer.remark}'" if answer.remark else "",
        ]
        lines.append(" ".join(part for part in parts if part))
    lines += [str(problem) for problem in sheet.problems]
    return "".join(f"{line}\n" for line in lines)


@pytest.mark.parametrize(("path", "title"), tuple(cases()))
def test_golden_cases(path: Path, title: str, request: pytest.FixtureRequest) -> None:
    """Each sheet of the golden files means what is written beneath it."""
    text = path.read_text(encoding="utf-8")
    match = next(found for found in CASE.finditer(text) if found["title"] == title)
    actual = told(parse_sheet(match["input"], "s.txt", KNOWN))
    if request.config.getoption("--update-golden"):
        start, stop = match.span("expected")
        path.write_bytes(f"{text[:start]}{actual}{text[stop:]}".encode())
    else:
        assert actual == match["expected"]


def test_every_line_is_taken_or_left() -> None:
    """No line with something in it vanishes: each gives an answer, a heading or a Problem."""
    text = "14 Jan north\n1041\nhm\n\n1042 x, 9-2\n"
    sheet = parse_sheet(text, "s.txt", KNOWN)
    assert [answer.line for answer in sheet.answers] == [2, 5]
    assert [problem.place.line for problem in sheet.problems] == [3, 5]


def test_left_lines_can_be_mended_and_taken_again() -> None:
    """Only what was not logged is kept aside, under its heading."""
    sheet = parse_sheet("14 Jan north cardio\n1041 x, 1042 - hm, 1043 ?\n", "s.txt", KNOWN)
    kept = format_left(sheet.left)
    assert kept == "2027-01-14 source north cardiology\n1042 - hm, 1043 ?\n"
    again = parse_sheet(kept.replace("- hm", "hm"), "s.txt", KNOWN)
    assert [(line.question, line.remark) for line in again.answers] == [
        ("north:1042", "hm"),
        ("north:1043", ""),
    ]


def test_the_order_of_day_and_month_is_a_setting() -> None:
    """02/01 is 2 January, or 1 February where the month comes first."""
    days = [
        parse_sheet("02/01 north\n1\n", "s", replace(KNOWN, day_first=first)).answers[0].heading.day
        for first in (True, False)
    ]
    assert days == [date(2027, 1, 2), date(2027, 2, 1)]


def test_a_sheet_without_a_date_says_so() -> None:
    """The caller can ask for the day of answers that no heading dates."""
    sheet = parse_sheet("north\n1\n2\n13 Feb\n3\n", "s", KNOWN)
    assert sheet.undated_count == 2


REMARKS = st.text(max_size=30).map(tidy)
LETTERS = st.sampled_from("ABCDE")


@st.composite
def lines(draw: st.DrawFn) -> SheetLine:
    """Any answer that a sheet can hold."""
    source = draw(st.sampled_from(["north", "harbour", "paper-1", "west"]))
    heading = Heading(
        day=draw(st.none() | st.dates(date(2020, 1, 1), date(2027, 2, 14))),
        source=source,
        area=AreaId(draw(st.sampled_from(["", "cardiology", "infectious-diseases"]))),
        round=draw(st.sampled_from(["", "first", "second", "paper"])),
    )
    outcome = draw(st.sampled_from(OUTCOMES))
    first, chosen, key = "", "", ""
    if outcome == "wrong" and draw(st.booleans()):
        chosen, key = draw(st.permutations("ABCDE"))[:2]
        first = draw(st.just("") | LETTERS)
    if outcome == "right" and draw(st.booleans()):
        chosen = key = draw(LETTERS)
        first = draw(st.just("") | LETTERS)
    item = draw(st.integers(1, 5000) | st.sampled_from(["b12", "17a", "q7c"]))
    return SheetLine(
        question=QuestionId(f"{source}:{item}"),
        outcome=outcome,  # type: ignore[arg-type]
        heading=heading,
        line=1,
        first=first,
        chosen=chosen,
        key=key,
        certainty=draw(st.none() | st.sampled_from([1, 2, 3])),
        seconds=draw(st.none() | st.integers(0, 9999).map(float)),
        reason=draw(st.sampled_from(["", *REASONS])),
        remark=draw(REMARKS),
    )


@settings(max_examples=60)
@given(st.lists(lines(), max_size=4, unique_by=lambda line: line.question))
def test_a_formatted_sheet_reads_back_as_it_was(rows: list[SheetLine]) -> None:
    """parse(format(x)) == x, whatever the remarks hold."""
    text = format_sheet(tuple(rows))
    sheet = parse_sheet(text, "s", KNOWN)
    assert sheet.problems == ()

    read = [
        replace(line, line=1, heading=replace(line.heading, number=0)) for line in sheet.answers
    ]
    wanted, day = [], None
    for row in rows:
        day = row.heading.day or day
        wanted.append(replace(row, heading=replace(row.heading, day=day)))
    assert read == wanted


@given(st.text())
def test_no_text_raises(text: str) -> None:
    """Whatever is typed, a sheet comes out, and every Problem has its line."""
    sheet = parse_sheet(text, "s", KNOWN)
    assert all(isinstance(p, Problem) and p.place.line > 0 for p in sheet.problems)
    assert len(sheet.left) == len(sheet.problems)


WORDS = st.sampled_from(
    [
        *("14", "Jan", "north", "1041", "1042-1050", "x", "?", "-", "C>B", "A/C>B", ",", ";"),
        *("right", "none", "r", "c3", "95s", "1:30", "rushed", "//", ":", ">", "/", "source"),
        *("nephrology", "31/12", "2027-01-14", "\u2014", "\U0001f44d", "\u0000", "paper", "gout"),
    ]
)


@given(st.lists(st.lists(WORDS, max_size=12).map(" ".join), max_size=8).map("\n".join))
def test_no_muddle_of_sheet_words_raises(text: str) -> None:
    """Nor does a jumble of words that mean something on a sheet."""
    parse_sheet(text, "s", KNOWN)


@pytest.mark.parametrize("path", sorted(CORPUS.iterdir()), ids=lambda path: path.name)
def test_the_corpus_raises_nothing(path: Path) -> None:
    """Texts that once failed are still read."""
    parse_sheet(path.read_bytes().decode("utf-8", errors="replace"), path.name, KNOWN)


@given(st.builds(Codes, outcome=st.sampled_from(OUTCOMES), reason=st.sampled_from(("", *REASONS))))
def test_formatted_codes_read_back(codes: Codes) -> None:
    """Codes without a remark are understood as they were written."""
    assert read_codes(format_codes(codes)) == (codes, "")


def test_long_lines_are_read_in_time() -> None:
    """A line of thousands of codes neither raises nor takes long."""
    for word in ("r ", "- ", "x? ", "1041, ", "none ", "1041 x a, "):
        parse_sheet(f"north 14 Jan\n1041 {word * 3000}\n", "s", KNOWN)


@pytest.mark.parametrize(
    ("codes", "seconds"), [("95s", 95), ("1m30s", 90), ("2m", 120), ("1:05", 65), ("10:00", 600)]
)
def test_a_minute_has_sixty_seconds(codes: str, seconds: float) -> None:
    """However a time is written."""
    assert read_codes(codes)[0].seconds == seconds


def test_a_line_too_long_to_divide_is_left() -> None:
    """It says how long it is; the lines around it are read."""
    long = "42 x " + "gout, " * 4000
    sheet = parse_sheet(f"14 Jan north\n41 x\n{long}\n43 x\n", "s.txt", KNOWN)
    assert [answer.question for answer in sheet.answers] == ["north:41", "north:43"]
    assert [left.text for left in sheet.left] == [long]
    assert f"a line of {len(long)} characters" in sheet.problems[0].message


def test_very_many_answers_in_one_line_are_read() -> None:
    """Each by itself, in a time that grows with their number only."""
    items = ", ".join(f"{item} x" for item in range(1, 1501))
    sheet = parse_sheet(f"14 Jan north\n{items}\n", "s.txt", KNOWN)
    assert len(sheet.answers) == 1500
    assert {answer.outcome for answer in sheet.answers} == {"wrong"}
