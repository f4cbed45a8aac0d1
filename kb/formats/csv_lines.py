"""Lines of CSV (RFC 4180) as every log has them: one record is one physical line.

A cell that a spreadsheet would take for a formula is quoted, and read back.
"""

import csv
import io
import re
from collections.abc import Mapping, Sequence

FORMULA = re.compile(r"'*[=+@-]")


def unquoted(cell: str) -> str:
    """The cell without the apostrophe that keeps a formula from being run."""
    return cell[1:] if cell[:1] == "'" and FORMULA.match(cell) else cell


def read_row(line: str) -> list[str]:
    """The cells of one line without its line end, as they were before they were quoted.

    Raises:
        csv.Error: It is not CSV.
    """
    if '"' in line:
        return [*map(unquoted, next(csv.reader([line], strict=True)))]
    cells = line.split(",")  # which is far faster, and so are most lines
    return [*map(unquoted, cells)] if "'" in line else cells


def format_row(cells: Mapping[str, str], columns: Sequence[str]) -> str:
    """Cells by column name -> one line ending in CRLF.

    A line break or NUL inside a cell becomes a space.
    """
    buffer = io.StringIO()
    row = [one_line(cells.get(column, "")) for column in columns]
    csv.writer(buffer).writerow([f"'{cell}" if FORMULA.match(cell) else cell for cell in row])
    return buffer.getvalue()


def one_line(text: str) -> str:
    """Text without line breaks or control characters, trimmed, as a log cell can hold it."""
    if text.isprintable():
        return text.strip()
    return "".join(c if c.isprintable() else " " for c in text).strip()
