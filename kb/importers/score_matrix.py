"""A study group's answers as a table of candidates and items -> rows of 0 and 1."""

from collections.abc import Sequence
from dataclasses import dataclass

from kb.core.errors import FormatError, Place
from kb.importers.table_reader import csv_rows

BLANKS = ("", "-", "na", "n/a")


@dataclass(frozen=True, slots=True, kw_only=True)
class Matrix:
    """Names of the items, and one row of 0 and 1 for each candidate."""

    items: tuple[str, ...]
    rows: tuple[tuple[int, ...], ...]


def parse_matrix(text: str, path: str) -> Matrix:
    """Read a table with items as columns and candidates as lines.

    Cells are 1 and 0; or letters, when a line named `key` gives the right ones. The first column
    may name the candidates (any heading that is no item), and is left out. A blank is wrong.

    Raises:
        FormatError: It is no such table; the place is the line.
    """
    lines, _ = csv_rows(text.removeprefix("\ufeff"), path)
    if not lines:
        raise FormatError("the file is empty", place=Place(path))
    if len(lines) < 3:
        hint = "the first line names the items, each further line is one candidate"
        raise FormatError("fewer than two candidates", hint, Place(path, 1))
    head, body = lines[0].cells, lines[1:]
    named = any(row.cells[0].casefold() == "key" for row in body) or not head[0]
    named = named or head[0].casefold() in ("candidate", "name", "id", "person")
    first = 1 if named else 0
    keys = [row for row in body if named and row.cells[0].casefold() == "key"]
    for row in body:
        count = len(row.cells)
        if count != len(head):
            few = "fewer" if count < len(head) else "more"
            message = f"{count - first} answers, {few} than the {len(head) - first} items"
            raise FormatError(message, "leave a blank cell empty", Place(path, row.line))
    key = keys[0].cells[first:] if keys else None
    rows = [
        tuple(_cells(row.cells[first:], key, Place(path, row.line)))
        for row in body
        if row not in keys
    ]
    return Matrix(items=head[first:], rows=tuple(rows))


def _cells(row: Sequence[str], key: Sequence[str] | None, place: Place) -> list[int]:
    if key is None:
        off = next((cell for cell in row if cell.casefold() not in ("0", "1", *BLANKS)), None)
        if off is not None:
            hint = "write 1 for right and 0 for wrong, or add a line 'key' with the right options"
            raise FormatError(f"'{off}' is neither 0 nor 1", hint, place)
        return [int(cell == "1") for cell in row]
    for cell, right in zip(row, key, strict=False):
        if not right:
            raise FormatError("an item has no key", "fill in the line 'key'", place)
        if len(cell) > 1 or (cell and not cell.isalpha()):
            raise FormatError(f"'{cell}' is not an option", "write one letter", place)
    return [int(bool(c) and c.casefold() == k.casefold()) for c, k in zip(row, key, strict=True)]
