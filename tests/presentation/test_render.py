"""A report reads well in 80 plain columns, and says the same in JSON."""

from __future__ import annotations

import json
from datetime import date
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.errors import Place, Problem
from kb.presentation.render import cell_texts, format_value, render_json, render_text
from kb.presentation.report_model import (
    Column,
    Entries,
    Entry,
    Facts,
    Report,
    Table,
    Text,
    day_line,
)

if TYPE_CHECKING:
    from kb.presentation.report_model import Kind

DAY = date(2027, 2, 14)
ENTRY = Entry(
    head="Which murmur grows on standing up?",
    right=("cardiology", "0.42 marks"),
    lines=("missed 3 of the last 4, last on 12 Feb: rewrite it",),
    passage=(("Standing lowers ", False), ("preload", True), (".", False)),
    fields=(("note", "murmur"), ("marks", 0.42)),
)
REPORT = Report(
    name="sample",
    title="Sample",
    right="14 Feb 2027",
    blocks=(
        Entries(key="list", entries=(ENTRY, Entry(head="Second"))),
        Table(
            key="areas",
            columns=(
                Column(key="area", label="Area"),
                Column(key="n", label="Tried", kind="count"),
            ),
            rows=(("cardiology", 12), ("neurology", None)),
        ),
        Facts(key="facts", facts=(("mean", "Mean", 0.634, "fraction"),)),
        Text(text="A closing line."),
    ),
    terms=(("marks", "expected items lost"),),
    cites=("wilson1927",),
)

EXPECTED = """\
Sample                                                               14 Feb 2027

1  Which murmur grows on standing up?                     cardiology  0.42 marks
   missed 3 of the last 4, last on 12 Feb: rewrite it
   Standing lowers *preload*.
2  Second

Area        Tried
cardiology     12
neurology       -

Mean  63%

A closing line.
"""


def test_a_report_reads_like_a_handover() -> None:
    """Head, what stands to its right, evidence beneath; tables without lines."""
    assert render_text(REPORT) == EXPECTED


def test_terms_and_works_are_shown_on_request() -> None:
    """--explain and --cite add to the end."""
    text = render_text(REPORT, explain=True, cite=True)
    assert "marks: expected items lost" in text
    assert "Wilson EB (1927)" in text


def test_json_has_the_raw_values() -> None:
    """Keys of blocks and columns are the contract."""
    content = json.loads(render_json(REPORT, DAY))
    assert content["schema"] == 2
    assert (content["report"], content["as_of"]) == ("sample", "2027-02-14")
    assert content["list"][0]["note"] == "murmur"
    assert content["list"][0]["passage"][1] == {"text": "preload", "marked": True}
    assert content["areas"][1] == {"area": "neurology", "n": None}
    assert content["facts"] == {"mean": 0.634}
    assert content["texts"] == ["A closing line."]


def test_findings_are_in_json() -> None:
    """A problem keeps its place, code and hint."""
    problem = Problem(place=Place("x.md", 3), code="c", message="m", hint="h")
    report = Report(name="check", title="Check", blocks=(), findings=(problem,))
    assert json.loads(render_json(report, DAY))["findings"] == [
        {"path": "x.md", "line": 3, "code": "c", "message": "m", "hint": "h", "severity": "error"}
    ]


WORDS = st.text(st.characters(codec="ascii", categories=["L", "N", "Zs"]), max_size=120)


@given(WORDS, WORDS, st.integers(40, 80))
def test_no_line_is_wider_than_the_window(head: str, line: str, width: int) -> None:
    """Long heads and lines are wrapped, whatever the words."""
    entry = Entry(head=head, right=("cardiology",), lines=(line,))
    report = Report(name="x", title="T", blocks=(Entries(key="l", entries=(entry,)),))
    text = render_text(report, width=width)
    assert max(map(len, text.splitlines())) <= width


@pytest.mark.parametrize(
    ("value", "kind", "shown"),
    [
        (None, "marks", "-"),
        (0.4249, "marks", "0.4"),
        (12.34, "marks", "12.3"),
        (0.634, "fraction", "63%"),
        (17.0, "count", "17"),
        (date(2027, 3, 1), "date", "1 Mar 2027"),
        (("a", "b"), "text", "a, b"),
        (0.12345, "number", "0.1235"),
        (True, "text", "True"),
    ],
)
def test_values_are_written_as_one_reads_them(value: object, kind: str, shown: str) -> None:
    """Each kind has one way of being written."""
    assert format_value(value, kind) == shown  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("day", "said"),
    [
        (date(2027, 2, 14), "14 Feb 2027, 86 days left"),
        (date(2027, 5, 10), "10 May 2027, the exam is tomorrow"),
        (date(2027, 5, 11), "11 May 2027, the exam is today"),
        (date(2027, 5, 12), "12 May 2027, the exam is over"),
    ],
)
def test_the_day_line_counts_down(day: date, said: str) -> None:
    """Days left until the exam, in plain words."""
    assert day_line(day, date(2027, 5, 11)) == said


@pytest.mark.parametrize(
    ("kind", "values", "texts"),
    [
        ("marks", (0.434, 14.42), ("0.4", "14.4")),
        ("marks", (0.434, 9.42), ("0.4", "9.4")),
        ("number", (10.0, 3.9, None), ("10.0", "3.9", "-")),
        ("number", (9, 12), ("9", "12")),
        ("number", ("too few", 1e9), ("too few", "1e+09")),
        ("count", (3, 12), ("3", "12")),
    ],
)
def test_a_column_has_as_many_decimals_throughout(
    kind: Kind, values: tuple[object, ...], texts: tuple[str, ...]
) -> None:
    """Figures that stand below each other can be compared at a glance."""
    columns = (Column(key="n", label="N", kind=kind),)
    table = Table(key="t", columns=columns, rows=tuple((value,) for value in values))
    assert tuple(row[0] for row in cell_texts(table)) == texts


def test_only_certainty_is_shown_as_100_percent() -> None:
    """A chance of .998 of passing is not a promise."""
    facts = (("sure", "Sure", 1.0, "fraction"), ("near", "Nearly", 0.998, "fraction"))
    report = Report(name="x", title="X", blocks=(Facts(key="f", facts=facts),))
    assert [line.split()[1:] for line in render_text(report).splitlines()[-2:]] == [
        ["100%"],
        ["over", "99%"],
    ]
