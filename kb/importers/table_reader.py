"""A table from elsewhere, CSV or spreadsheet, as a grid of text with the line of each row.

What had to be guessed (encoding, separator, worksheet) is kept, so that it can be shown.
"""

import csv
import io
import warnings
import zipfile
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from itertools import islice
from typing import Any

from kb.core.errors import FormatError, Place

SEPARATORS = (",", ";", "\t", "|")
MOST_ROWS = 200_000
MOST_COLUMNS = 1000
LONGEST_LINE = 1_000_000
"""Characters of a line of a CSV file."""
LAST_ROW = 1_048_576
"""The last row that a workbook can have; a number beyond it is damage."""
LONGEST_CELL = 32_767
"""Characters that a cell of a workbook can hold."""
MOST_CELLS = 5_000_000
MOST_UNPACKED = 100_000_000
MOST_OF = {"sharedStrings": 50_000_000, "styles": 5_000_000}
"""Bytes of a workbook's parts when unpacked, and of the words and styles they share: a table of
`MOST_ROWS` takes 80 MB. More is a trap, or a workbook that no memory is meant for."""
LOOKED_AT = 25
"""Rows that are looked at to find the separator and the header."""
WESTERN = ["cp1252", "mac_roman", "cp1250", "cp437"]
"""Encodings that are tried where a file is not Unicode (common practice, no source)."""
UTF_16 = ["utf_16_le", "utf_16_be"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One row below the header, with its line in the file (or row in the sheet), from 1."""

    line: int
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A table as text. `notes` say what was detected, to be shown."""

    path: str
    header: tuple[str, ...]
    rows: tuple[Row, ...]
    notes: tuple[str, ...] = ()
    separator: str = ","


def read_table(raw: bytes, path: str, *, encoding: str = "", sheet: str = "") -> Grid:
    """Read a CSV file or an .xlsx workbook.

    Without `encoding`, that of a CSV file is found out; without `sheet`, it is the first of a
    workbook that has rows and is not hidden.

    Raises:
        FormatError: It is neither, or holds no table.
    """
    if raw.startswith(b"PK\x03\x04"):
        rows, notes = _workbook_rows(raw, path, sheet)
        return _grid(rows, path, (notes,), ",")
    if raw.startswith(b"\xd0\xcf\x11\xe0"):
        hint = "save it as .xlsx or CSV in your spreadsheet program"
        raise FormatError("an old kind of workbook cannot be read", hint, Place(path))
    if sheet:
        hint = "leave it out: a CSV file has no sheets"
        raise FormatError("--worksheet is for workbooks", hint, Place(path))
    if path.casefold().endswith((".xlsx", ".xlsm")):
        hint = "save it again as .xlsx or CSV"
        raise FormatError("this is not a workbook, or it is damaged", hint, Place(path))
    text, named = decoded(raw, path, encoding)
    if "\0" in text:
        raise _no_text(path)
    rows, separator = csv_rows(text, path)
    shown = {"\t": "tab", ",": "comma", ";": "semicolon", "|": "bar"}[separator]
    return _grid(rows, path, (named, f"separator {shown}"), separator)


def decoded(raw: bytes, path: str, encoding: str = "") -> tuple[str, str]:
    """The text of a file, and the name of its encoding.

    Raises:
        FormatError: The encoding that was given does not fit, or none does.
    """
    hint = "name it with --encoding, such as cp1252"
    if encoding:
        try:
            return raw.decode(encoding).removeprefix("\ufeff"), encoding
        except LookupError as error:
            raise FormatError(f"no encoding is called '{encoding}'", hint) from error
        except UnicodeDecodeError as error:
            raise FormatError(f"this is not {encoding}", hint, Place(path)) from error
    marks = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
    likely = next((name for mark, name in marks if raw.startswith(mark)), "utf-8")
    unmarked = likely == "utf-8" and b"\0" in raw
    try:
        if not unmarked:
            return raw.decode(likely), likely.removesuffix("-sig").upper()
    except UnicodeDecodeError:
        pass
    from charset_normalizer import from_bytes

    matches = from_bytes(raw, cp_isolation=UTF_16 if unmarked else WESTERN, threshold=0.5)
    best = matches.best()
    if unmarked and best is None:
        raise _no_text(path)
    if best is None:
        raise FormatError("the encoding is not known", hint, Place(path))
    usual = [match for match in matches if match.encoding == WESTERN[0]]
    if usual and usual[0].chaos <= best.chaos + 0.1:
        best = usual[0]
    return str(best), best.encoding


def _no_text(path: str) -> FormatError:
    return FormatError("this is not a text file", "save the table as CSV in UTF-8", Place(path))


def csv_rows(text: str, path: str) -> tuple[list[Row], str]:
    """The rows of a CSV text that are not empty, white space made single, and its separator.

    Raises:
        FormatError: It is too large, or no CSV.
    """
    _check_lines(text, path)
    separator = separator_of(text)
    rows: list[Row] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator)
    start = 0
    try:
        for cells in reader:
            if any("\n" in cell for cell in cells):
                _check_quotes(cells, separator, Place(path, start + 1))
            tidy = tuple(" ".join(cell.split()) for cell in cells)
            if any(tidy):
                rows.append(Row(line=start + 1, cells=tidy))
            start = reader.line_num
            _check_length(rows, path)
    except csv.Error as error:
        hint = "save it again as CSV in UTF-8"
        place = Place(path, reader.line_num)
        raise FormatError(f"this is not CSV: {error}", hint, place) from error
    return rows, separator


def _check_quotes(cells: Sequence[str], separator: str, place: Place) -> None:
    """Refuse a cell that takes in rows below it, since its quotation mark is never closed.

    Raises:
        FormatError: A line within it has as many cells as the row.
    """
    inner = [line for cell in cells for line in cell.rstrip("\n").split("\n")[1:]]
    if any(line.count(separator) >= max(len(cells) - 1, 1) for line in inner):
        hint = "close the quotation mark in this row, or take it out"
        raise FormatError("a quotation mark here takes in the rows below", hint, place)


def _check_lines(text: str, path: str) -> None:
    """Refuse what would take too much memory when it is divided into rows and cells."""
    if text.count("\n") > 5 * MOST_ROWS:
        raise FormatError(f"more than {MOST_ROWS} rows", "divide the table", Place(path))
    for number, line in enumerate(io.StringIO(text, newline="\n"), start=1):
        if len(line.removesuffix("\n")) > LONGEST_LINE:
            hint = "save it again as CSV in UTF-8, one row a line"
            message = f"a line of more than {LONGEST_LINE} characters"
            raise FormatError(message, hint, Place(path, number))


def separator_of(text: str) -> str:
    """The sign that divides the cells of a CSV file."""
    return max(SEPARATORS, key=lambda mark: _fit(text, mark))


def _fit(text: str, separator: str) -> tuple[int, int]:
    """How well a separator fits: rows that have as many cells as most, then cells."""
    rows = csv.reader(io.StringIO(text[:20_000], newline=""), delimiter=separator)
    filled = (row for row in rows if any(cell.strip() for cell in row))
    try:
        widths = Counter(len(row) for row in islice(filled, LOOKED_AT))
    except csv.Error:
        return (0, 0)
    return max(((count, width) for width, count in widths.items() if width > 1), default=(0, 0))


def _check_length(rows: Sequence[Row], path: str) -> None:
    if len(rows) > MOST_ROWS:
        raise FormatError(f"more than {MOST_ROWS} rows", "divide the table", Place(path))
    if rows and len(rows[-1].cells) > MOST_COLUMNS:
        place = Place(path, rows[-1].line)
        hint = "delete those that are not needed"
        raise FormatError(f"more than {MOST_COLUMNS} columns", hint, place)


def _workbook_rows(raw: bytes, path: str, sheet: str) -> tuple[list[Row], str]:
    import openpyxl

    damaged = (zipfile.BadZipFile, KeyError, ValueError, TypeError, OSError, EOFError, IndexError)
    try:
        _check_sizes(raw, path)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            book = openpyxl.load_workbook(io.BytesIO(raw), read_only=True, data_only=True)
            try:
                return _sheet_rows(book.worksheets, path, sheet)
            finally:
                book.close()
    except (*damaged, AttributeError, SyntaxError) as error:
        hint = "save it again as .xlsx or CSV"
        raise FormatError("this workbook cannot be read", hint, Place(path)) from error


def _sheet_rows(sheets: Iterable[Any], path: str, wanted: str) -> tuple[list[Row], str]:
    titles: list[str] = []
    for page in sheets:
        title = str(page.title)
        titles.append(title)
        if title.casefold() != wanted.casefold() if wanted else page.sheet_state != "visible":
            continue
        rows = _page_rows(page, path)
        if rows or wanted:
            return rows, f"sheet '{title}'"
    known = ", ".join(titles)
    message = f"no sheet called '{wanted}'" if wanted else "no sheet has rows"
    raise FormatError(message, f"its sheets are: {known}", Place(path))


def _page_rows(page: Any, path: str) -> list[Row]:  # noqa: ANN401 - openpyxl has no types
    page.reset_dimensions()  # what a workbook says of its own size is often wrong
    rows: list[Row] = []
    cell_count = 0
    for number, values in enumerate(page.iter_rows(values_only=True), start=1):
        cell_count += len(values)
        long = any(isinstance(v, str) and len(v) > LONGEST_CELL for v in values)
        if number > LAST_ROW or cell_count > MOST_CELLS or long:
            what = "a cell is longer" if long else "it has more cells or rows"
            hint = "save it again as .xlsx or CSV, with the table alone"
            raise FormatError(f"{what} than a workbook holds", hint, Place(path, number))
        if any(value is not None for value in values):
            cells = tuple(shown(value) for value in values)
            if any(cells):
                rows.append(Row(line=number, cells=cells))
                _check_length(rows, path)
    return rows


def _check_sizes(raw: bytes, path: str) -> None:
    """Refuse a workbook that would take too much memory or time, before anything is unpacked.

    Raises:
        BadZipFile: It is damaged.
        FormatError: It is too large.
    """
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        parts = [part for part in archive.infolist() if part.filename.endswith((".xml", ".rels"))]
    total = sum(part.file_size for part in parts)
    beyond = (
        p.file_size > most for p in parts for name, most in MOST_OF.items() if name in p.filename
    )
    if total > MOST_UNPACKED or any(beyond):
        message = f"this workbook takes {total // 1_000_000} MB when unpacked, which is too much"
        raise FormatError(message, "save the table alone, as CSV", Place(path))


def shown(value: object) -> str:
    """A spreadsheet's value as the text a CSV file would hold."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return str(int(value))
    if isinstance(value, datetime):
        plain = value.time() == time(0) and value.tzinfo is None
        return value.date().isoformat() if plain else value.isoformat(sep=" ")
    if isinstance(value, date | time):
        return value.isoformat()
    return " ".join(str(value).split())


def _grid(rows: list[Row], path: str, notes: tuple[str, ...], separator: str) -> Grid:
    """Divide rows into header and body. Lines above the header with a single cell are titles."""
    if not rows:
        raise FormatError("the table is empty", place=Place(path))
    filled = [sum(map(bool, row.cells)) for row in rows[:LOOKED_AT]]
    at = next(i for i, count in enumerate(filled) if count >= min(2, max(filled)))
    head = rows[at].cells
    if any(cell.replace(".", "").replace(",", "").replace(":", "").isdigit() for cell in head):
        width = max(len(row.cells) for row in rows)
        head, at, notes = ("",) * width, at - 1, (*notes, "no header")
    body = tuple(rows[at + 1 :])
    return Grid(path=path, header=_distinct(head), rows=body, notes=notes, separator=separator)


def _distinct(names: Sequence[str]) -> tuple[str, ...]:
    """Column names, each once; an empty one is named by its position."""
    found: list[str] = []
    for number, name in enumerate(names, start=1):
        own = name or f"column {number}"
        while own.casefold() in {other.casefold() for other in found}:
            own = f"{own} ({number})"
        found.append(own)
    return tuple(found)
