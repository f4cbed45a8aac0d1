"""A file becomes a grid of text: its limits, its header, and values of a workbook."""

from __future__ import annotations

import io
import zipfile
from datetime import UTC, date, datetime, time

import openpyxl
import pytest

from kb.core.errors import FormatError, QueryError
from kb.importers import table_reader
from kb.importers.column_mapping import (
    column_of,
    given_columns,
    guess_columns,
    is_negative,
    opposite_columns,
    remembered_columns,
    unclear,
)
from kb.importers.table_reader import decoded, read_table, separator_of, shown


def book(*sheets: tuple[str, list[list[object]]]) -> bytes:
    """A workbook of these sheets."""
    made = openpyxl.Workbook()
    made.remove(made.active)
    for title, rows in sheets:
        page = made.create_sheet(title)
        for row in rows:
            page.append(row)
    stream = io.BytesIO()
    made.save(stream)
    return stream.getvalue()


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, ""),
        (True, "true"),
        (False, "false"),
        (3.0, "3"),
        (3.5, "3.5"),
        (1e15, "1000000000000000.0"),
        (1e15 - 1, "999999999999999"),
        (-1e20, "-1e+20"),
        (-2.0, "-2"),
        (datetime(2027, 1, 14), "2027-01-14"),  # noqa: DTZ001 - workbooks have no zones
        (datetime(2027, 1, 14, 9, 5), "2027-01-14 09:05:00"),  # noqa: DTZ001
        (datetime(2027, 1, 14, tzinfo=UTC), "2027-01-14 00:00:00+00:00"),
        (date(2027, 1, 14), "2027-01-14"),
        (time(9, 5), "09:05:00"),
        (" two \n lines ", "two lines"),
    ],
)
def test_a_value_of_a_workbook_as_text(value: object, text: str) -> None:
    """As a CSV file would hold it; midnight is a day alone."""
    assert shown(value) == text


def test_the_first_sheet_with_rows_or_the_one_that_was_named() -> None:
    """Whatever its case; an empty one can be named too, and others are listed."""
    rows: list[list[object]] = [["item", "result"], [1, "right"]]
    raw = book(("Cover", []), ("Answers", rows), ("Older", [["item", "result"], [2, "wrong"]]))
    found = read_table(raw, "a.xlsx")
    assert (found.rows[0].cells, found.rows[0].line, found.notes) == (
        ("1", "right"),
        2,
        ("sheet 'Answers'",),
    )
    assert read_table(raw, "a.xlsx", sheet="older").rows[0].cells == ("2", "wrong")
    with pytest.raises(FormatError, match="no sheet called 'x'") as caught:
        read_table(raw, "a.xlsx", sheet="x")
    assert caught.value.hint == "its sheets are: Cover, Answers, Older"
    with pytest.raises(FormatError, match="the table is empty"):
        read_table(raw, "a.xlsx", sheet="Cover")
    with pytest.raises(FormatError, match="no sheet has rows"):
        read_table(book(("A", [])), "a.xlsx")


@pytest.mark.parametrize(("limit", "fits"), [(3, True), (2, False)])
@pytest.mark.parametrize("workbook", [True, False])
def test_a_table_has_so_many_rows(
    monkeypatch: pytest.MonkeyPatch, limit: int, fits: bool, workbook: bool
) -> None:
    """The header is one of them; empty lines are none."""
    monkeypatch.setattr(table_reader, "MOST_ROWS", limit)
    raw = b"item,result\n\n1,right\n2,wrong\n"
    if workbook:
        raw = book(("A", [["item", "result"], [], [1, "right"], [2, "wrong"]]))
    if fits:
        assert [row.line for row in read_table(raw, "a").rows] == [3, 4]
    else:
        with pytest.raises(FormatError, match="more than 2 rows"):
            read_table(raw, "a")


@pytest.mark.parametrize(
    ("name", "limit", "fits"),
    [
        ("MOST_COLUMNS", 2, True),
        ("MOST_COLUMNS", 1, False),
        ("MOST_CELLS", 4, True),
        ("MOST_CELLS", 3, False),
        ("LONGEST_CELL", 6, True),
        ("LONGEST_CELL", 5, False),
        ("LAST_ROW", 2, True),
        ("LAST_ROW", 1, False),
        ("MOST_UNPACKED", 10**6, True),
        ("MOST_UNPACKED", 10, False),
        ("MOST_OF", {"sharedStrings": 10**6}, True),
        ("MOST_OF", {"sharedStrings": 10}, False),
        ("MOST_OF", {"styles": 10**6}, True),
        ("MOST_OF", {"styles": 10}, False),
    ],
)
def test_a_workbook_has_limits(
    monkeypatch: pytest.MonkeyPatch, name: str, limit: int | dict[str, int], fits: bool
) -> None:
    """Each up to itself: columns, cells, letters of a cell, rows, bytes."""
    monkeypatch.setattr(table_reader, name, limit)
    stream = io.BytesIO(book(("A", [["item", "result"], [1, "right"]])))
    with zipfile.ZipFile(stream, "a") as archive:
        archive.writestr("xl/sharedStrings.xml", "<sst/>" * 2)
    raw = stream.getvalue()
    if fits:
        assert read_table(raw, "a.xlsx").rows[0].cells == ("1", "right")
    else:
        with pytest.raises(FormatError):
            read_table(raw, "a.xlsx")


def test_the_usual_limits() -> None:
    """Those of a workbook are the published ones of its format (ECMA-376 as implemented); a table
    has 200,000 rows and 1,000 columns.
    """
    assert (table_reader.LAST_ROW, table_reader.LONGEST_CELL) == (2**20, 2**15 - 1)
    assert (table_reader.MOST_ROWS, table_reader.MOST_COLUMNS) == (200_000, 1000)
    assert len(read_table(b"a" + b",a" * 999 + b"\n", "a.csv").header) == 1000
    with pytest.raises(FormatError, match="more than 1000 columns"):
        read_table(b"a" + b",a" * 1000 + b"\n", "a.csv")


def test_a_hidden_sheet_is_read_only_when_it_is_named() -> None:
    """Some programs keep lists there."""
    made, stream = openpyxl.Workbook(), io.BytesIO()
    made.active.append(["x", "y"])
    made.active.title = "Lists"
    for state, word in (("veryHidden", "none"), ("visible", "right"), ("visible", "wrong")):
        made.worksheets[-1].sheet_state = "hidden" if state == "visible" else state
        made.create_sheet().append(["item", word])
    made.worksheets[2].sheet_state = made.worksheets[3].sheet_state = "visible"
    made.active = made.worksheets[2]
    made.save(stream)
    assert read_table(stream.getvalue(), "a.xlsx").header == ("item", "right")
    assert read_table(stream.getvalue(), "a.xlsx", sheet="lists").header == ("x", "y")


@pytest.mark.parametrize(("length", "fits"), [(100, True), (101, False)])
def test_a_line_has_so_many_characters(
    monkeypatch: pytest.MonkeyPatch, length: int, fits: bool
) -> None:
    """Wherever it is; the place is named."""
    monkeypatch.setattr(table_reader, "LONGEST_LINE", 100)
    long = "1,".ljust(length, "x")
    for text, line in ((f"item,result\n{long}", 2), (f"item,result\n{long}\n2,wrong\n", 2)):
        if fits:
            assert read_table(text.encode(), "a.csv").rows[0].line == 2
        else:
            with pytest.raises(FormatError, match="a line of more than 100") as caught:
                read_table(text.encode(), "a.csv")
            assert caught.value.place is not None
            assert caught.value.place.line == line


@pytest.mark.parametrize(
    ("text", "separator"),
    [
        ("a;b\n1;2,5\n2;3,5\n", ";"),
        ("a,b\n1,2\n", ","),
        ("a\tb\n1\t2, 3\n", "\t"),
        ("a|b\n1|2\n", "|"),
        ("a\n1\n", ","),
        ("Title; of it\na,b,c\n1,2,3\n4,5,6\n", ","),
        ("a;b;c\n1;2;3\nx,y\n", ";"),
        ("item;outcome;note\n1;right, I think;\n2;wrong, I fear;\n", ";"),
        ('"a","b"\n"1","2"\n', ","),
    ],
)
def test_the_sign_between_cells(text: str, separator: str) -> None:
    """The one with which most rows have as many cells as most."""
    assert separator_of(text) == separator


@pytest.mark.parametrize(
    ("text", "header", "first"),
    [
        ("My answers\n\nitem,result\n1,right\n", ("item", "result"), ("1", "right")),
        ("item,,item\n1,x,2\n", ("item", "column 2", "item (3)"), ("1", "x", "2")),
        ("1,right\n2,wrong\n", ("column 1", "column 2"), ("1", "right")),
        ("1.5,right\n", ("column 1", "column 2"), ("1.5", "right")),
        ("19:42,right,x\n1,2\n", ("column 1", "column 2", "column 3"), ("19:42", "right", "x")),
        ("item\n1\n", ("item",), ("1",)),
        ("a , b\n 1 ,two  words\n", ("a", "b"), ("1", "two words")),
    ],
)
def test_the_header_is_found_and_each_name_is_used_once(
    text: str, header: tuple[str, ...], first: tuple[str, ...]
) -> None:
    """Titles above it are passed over; a first row with a number is no header."""
    grid = read_table(text.encode(), "a.csv")
    assert (grid.header, grid.rows[0].cells) == (header, first)
    assert ("no header" in grid.notes) == header[0].startswith("column")


@pytest.mark.parametrize(
    ("raw", "options", "said"),
    [
        (b"", {}, "the table is empty"),
        (b"a\0b", {}, "this is not a text file"),
        (b"\xd0\xcf\x11\xe0", {}, "an old kind of workbook"),
        (b"a,b", {"sheet": "x"}, "--worksheet is for workbooks"),
        (b"a,b", {"encoding": "utf-99"}, "no encoding is called 'utf-99'"),
        (b"\xff", {"encoding": "utf-8"}, "this is not utf-8"),
        (b'a,"b\n' + b"x" * 140_000, {}, "this is not CSV"),
        (b"PK\x03\x04", {}, "this workbook cannot be read"),
    ],
)
def test_what_is_no_table_is_said(raw: bytes, options: dict[str, str], said: str) -> None:
    """In one line."""
    with pytest.raises(FormatError, match=said):
        read_table(raw, "a.csv", **options)


def test_a_damaged_or_foreign_zip_is_no_workbook() -> None:
    """And one that only has the name."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("a.txt", "x")
    with pytest.raises(FormatError, match="cannot be read"):
        read_table(stream.getvalue(), "a.xlsx")
    with pytest.raises(FormatError, match="this is not a workbook"):
        read_table(b"item,result\n", "a.XLSX")


def test_encodings_are_told_by_their_marks_and_by_what_fits() -> None:
    """UTF-8 and UTF-16 with their marks, and the usual one of western Europe."""
    assert decoded("é".encode("utf-8-sig"), "a") == ("é", "UTF-8")
    assert decoded("é".encode("utf-16"), "a") == ("é", "UTF-16")
    assert decoded(b"\xfe\xff" + "é".encode("utf-16-be"), "a") == ("é", "UTF-16")
    assert decoded("\ufeffé".encode(), "a", "utf-8") == ("é", "utf-8")
    text = "Frage,Ergebnis\nNr 1 für Ärzte,richtig – ja\n"
    assert decoded(text.encode("cp1252"), "a")[0] == text


HEADER = ("No.", "Question text", "Result", "Wrong", "Answer")


def test_columns_by_name_or_number() -> None:
    """Whatever case and signs; an empty one is left out."""
    assert column_of("no", HEADER) == column_of("1", HEADER) == 0
    assert column_of("question  TEXT", HEADER) == column_of("2", HEADER) == 1
    assert column_of("5", HEADER) == 4
    for name in ("0", "6", "x", "\u0661"):
        with pytest.raises(QueryError, match=f"the table has no column '{name}'"):
            column_of(name, HEADER)
    assert given_columns(["item=1", " Outcome = result ", "area="], HEADER) == {
        "item": 0,
        "outcome": 2,
    }
    with pytest.raises(QueryError, match="is not field=column"):
        given_columns(["item"], HEADER)
    with pytest.raises(QueryError, match="'itme' is not a field") as caught:
        given_columns(["itme=1"], HEADER)
    assert "item" in caught.value.hint


def test_columns_are_guessed_once_each() -> None:
    """A column of options called correct is the key; one called answer may be either."""
    assert guess_columns(("Item", "Correct"), [["1", "b"], ["2", ""]]) == {"item": 0, "key": 1}
    assert guess_columns(("Item", "Correct"), [["1", "b"], ["2", "yes"]]) == {
        "item": 0,
        "outcome": 1,
    }
    assert guess_columns(("Item", "Correct"), [["1"]]) == {"item": 0, "outcome": 1}
    assert guess_columns(("Item", "Correct"), [["1", "K"]]) == {"item": 0, "outcome": 1}
    found = guess_columns(("Item", "Answer"))
    assert (found, unclear(found, ("Item", "Answer"))) == ({"item": 0, "chosen": 1}, 1)
    assert unclear({"chosen": 1, "key": 0}, ("Key", "Answer")) is None
    assert unclear({"chosen": 1}, ("Item", "Chosen")) is None
    assert unclear({}, ("Item",)) is None


def test_columns_for_right_and_for_wrong_belong_together() -> None:
    """Each with its opposite, unless that is used for something else."""
    assert opposite_columns({"outcome": 2}, ("Item", "Wrong", "Correct")) == (1,)
    assert opposite_columns({"outcome": 1}, ("Item", "Wrong", "Correct")) == (2,)
    assert opposite_columns({"outcome": 2, "remark": 1}, ("Item", "Wrong", "Correct")) == ()
    assert opposite_columns({"item": 0}, ("Item", "Wrong")) == ()
    assert [is_negative(name) for name in ("Is_Wrong", "Missed?", "Correct", "Missing")] == [
        *(True, True, False, False)
    ]


def test_columns_given_last_time_are_taken_where_they_do() -> None:
    """Those that are gone are left out; without item and outcome there is nothing."""
    told = {"item": "No.", "outcome": "Result", "area": "Gone"}
    assert remembered_columns(told, HEADER) == {"item": 0, "outcome": 2}
    assert remembered_columns({"item": "No.", "area": "Gone"}, HEADER) is None


@pytest.mark.parametrize(("lines", "fits"), [(15, True), (16, False)])
def test_so_many_empty_lines_are_a_slip(
    monkeypatch: pytest.MonkeyPatch, lines: int, fits: bool
) -> None:
    """Five for each row that a table may have, here three."""
    monkeypatch.setattr(table_reader, "MOST_ROWS", 3)
    raw = b"item,result\n1,right" + b"\n" * (lines - 1)
    if fits:
        assert len(read_table(raw, "a.csv").rows) == 1
    else:
        with pytest.raises(FormatError, match="more than 3 rows"):
            read_table(raw, "a.csv")


def test_a_million_characters_are_a_line() -> None:
    """Also below an empty first line; one more is too many."""
    for length, fits in ((1_000_000, True), (1_000_001, False)):
        raw = b"\n" + (b"x" * 1999 + b",") * 499 + b"x" * (length - 499 * 2000)
        if fits:
            assert len(read_table(raw, "a.csv").header) == 500
        else:
            with pytest.raises(FormatError, match="a line of more than 1000000") as caught:
                read_table(raw, "a.csv")
            assert caught.value.place is not None
            assert caught.value.place.line == 2


def test_a_cell_may_hold_commas_quotation_marks_and_line_breaks() -> None:
    """Source: RFC 4180 section 2, rules 5 to 7, its own rows under a header."""
    raw = b'one,two,three\r\naaa,"b\r\nbb",ccc\r\n"aaa","b""bb","c,c"\r\n'
    rows = [row.cells for row in read_table(raw, "a.csv").rows]
    assert [[" ".join(cell.split()) for cell in cells] for cells in rows] == [
        ["aaa", "b bb", "ccc"],
        ["aaa", 'b"bb', "c,c"],
    ]


def test_twenty_five_rows_tell_the_separator() -> None:
    """Thirteen of them with semicolons; what follows below does not count."""
    assert separator_of("a;b\n" * 13 + "a,b\n" * 12 + "a,b\n" * 30) == ";"
    assert separator_of("a;b\n" * 12 + "a,b\n" * 13 + "a;b\n" * 30) == ","


@pytest.mark.parametrize(("titles", "header"), [(24, "item"), (25, "Title 0")])
def test_a_header_is_among_the_first_twenty_five_rows(titles: int, header: str) -> None:
    """Rows of one cell above it are titles."""
    text = "".join(f"Title {n}\n" for n in range(titles)) + "item,result\nx,right\n"
    assert read_table(text.encode(), "a.csv").header[0] == header


def test_the_first_row_of_a_table_without_header_is_on_line_1() -> None:
    """And a row over two lines on the first of them."""
    grid = read_table(b'1,"right\nx"\n2,wrong\n', "a.csv")
    assert [(row.line, row.cells) for row in grid.rows] == [
        (1, ("1", "right x")),
        (3, ("2", "wrong")),
    ]


def test_a_row_that_ends_early_tells_nothing_of_its_last_column() -> None:
    """The others say that `correct` holds options, so that it is the key."""
    assert guess_columns(["item", "correct"], [["1"], ["2", "B"]]) == {"item": 0, "key": 1}
    assert guess_columns(["item", "correct"], [["1"], ["2", "yes"]]) == {"item": 0, "outcome": 1}
