"""Workbooks and CSV files made to mislead or to fill the memory end in one line. Small versions of
the attacks in scripts/attacks.py, which measures the full ones.
"""

from __future__ import annotations

import io
import re
import zipfile
from typing import TYPE_CHECKING

import openpyxl
import pytest

from kb.core.errors import FormatError
from kb.importers import table_reader
from kb.importers.table_reader import read_table

if TYPE_CHECKING:
    from collections.abc import Callable

SHEET = "xl/worksheets/sheet1.xml"


def workbook(change: Callable[[str], str]) -> bytes:
    """Twenty answers, with the XML of their sheet changed."""
    book = openpyxl.Workbook()
    book.active.append(["item", "outcome"])
    for item in range(41, 61):
        book.active.append([item, "wrong"])
    made, out = io.BytesIO(), io.BytesIO()
    book.save(made)
    with zipfile.ZipFile(made) as source, zipfile.ZipFile(out, "w") as target:
        for name in source.namelist():
            raw = source.read(name)
            target.writestr(name, change(raw.decode()) if name == SHEET else raw)
    return out.getvalue()


def below(rows: str) -> Callable[[str], str]:
    """Put rows below the table."""
    return lambda xml: xml.replace("</sheetData>", f"{rows}</sheetData>")


@pytest.mark.parametrize("said", ["A1", "A1:XFD1048576", "C30:D40", "A1:B2"])
def test_what_a_workbook_says_of_its_size_does_not_count(said: str) -> None:
    """Programs write wrong dimensions: the table is read whole."""
    raw = workbook(lambda xml: re.sub(r'<dimension ref="[^"]*"', f'<dimension ref="{said}"', xml))
    grid = read_table(raw, "a.xlsx")
    assert grid.header == ("item", "outcome")
    assert [row.cells for row in grid.rows] == [(str(n), "wrong") for n in range(41, 61)]


@pytest.mark.parametrize(
    ("limit", "value", "rows", "why"),
    [
        ("LAST_ROW", 100, "<row/>" * 200, "more cells or rows"),
        ("LAST_ROW", 100, '<row r="999999999"><c><v>1</v></c></row>', "more cells or rows"),
        ("MOST_CELLS", 400, '<row><c r="ALL1"><v>1</v></c></row>', "more cells or rows"),
        ("MOST_COLUMNS", 50, '<row><c r="ZZ1"><v>1</v></c></row>', "more than 50 columns"),
        ("MOST_UNPACKED", 30_000, "<row/>" * 9_000, "MB when unpacked"),
        (
            "LONGEST_CELL",
            1000,
            f'<row><c t="inlineStr"><is><t>{"x" * 1001}</t></is></c></row>',
            "a cell is longer",
        ),
    ],
)
def test_more_than_a_table_holds_is_refused(
    monkeypatch: pytest.MonkeyPatch, limit: str, value: int, rows: str, why: str
) -> None:
    """Before it fills the memory; the message says what is too much."""
    raw = workbook(below(rows))
    monkeypatch.setattr(table_reader, limit, value)
    with pytest.raises(FormatError, match=why):
        read_table(raw, "a.xlsx")


def test_empty_rows_below_a_table_do_no_harm() -> None:
    """A spreadsheet leaves them where cells were formatted once."""
    grid = read_table(workbook(below("<row/>" * 500)), "a.xlsx")
    assert len(grid.rows) == 20


def test_shared_words_count_before_they_are_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """They would be kept in memory as a whole."""
    made = io.BytesIO(workbook(lambda xml: xml))
    with zipfile.ZipFile(made, "a") as archive:
        archive.writestr("xl/sharedStrings.xml", "<sst><si><t>gout</t></si></sst>")
    assert len(read_table(made.getvalue(), "a.xlsx").rows) == 20
    monkeypatch.setattr(table_reader, "MOST_OF", {"sharedStrings": 10})
    with pytest.raises(FormatError, match="when unpacked"):
        read_table(made.getvalue(), "a.xlsx")


@pytest.mark.parametrize("cut", [0.3, 0.6, 0.9])
def test_a_damaged_workbook_is_one_line(cut: float) -> None:
    """The file cut off, or its sheet; or the sheet is missing."""
    raw = workbook(lambda xml: xml)
    halves = (raw[: int(len(raw) * cut)], workbook(lambda xml: xml[: int(len(xml) * cut)]))
    for damaged in halves:
        with pytest.raises(FormatError, match="cannot be read"):
            read_table(damaged, "a.xlsx")


@pytest.mark.parametrize(
    ("limit", "value", "text", "why"),
    [
        ("LONGEST_LINE", 100, "a,b\n" + "," * 101 + "\n", "a.csv:2: a line of more than 100"),
        ("MOST_ROWS", 10, "a,b\n" + "\n" * 51, "more than 10 rows"),
        ("MOST_COLUMNS", 10, "a," * 11 + "\n1,2\n", "a.csv:1: more than 10 columns"),
    ],
)
def test_a_csv_file_has_limits_too(
    monkeypatch: pytest.MonkeyPatch, limit: str, value: int, text: str, why: str
) -> None:
    """With the line on which they are passed."""
    monkeypatch.setattr(table_reader, limit, value)
    with pytest.raises(FormatError) as caught:
        read_table(text.encode(), "a.csv")
    assert why in str(caught.value)


def test_a_formula_counts_by_the_value_kept_with_it() -> None:
    """The first item is written as 40 + 1, whose value the program that saved it had worked out."""
    raw = workbook(lambda xml: xml.replace("<v>41</v>", "<f>40+1</f><v>41</v>"))
    assert read_table(raw, "a.xlsx").rows[0].cells == ("41", "wrong")
