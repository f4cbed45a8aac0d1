"""What each column of a table holds: as given, as remembered, or guessed from its name."""

import csv
import re
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from functools import cache
from pathlib import Path

from kb.core.errors import QueryError, nearest
from kb.core.ids import whole_number
from kb.formats.study import TABLE_FIELDS

Columns = dict[str, int]
"""Index of the column (from 0) by what it holds."""

NEGATIVE = ("wrong", "is wrong", "incorrect", "is incorrect", "missed", "error")
POSITIVE = ("correct", "is correct", "answered correctly", "right")
"""Names of columns that say whether an answer was wrong, or right."""
NEGATIVE_WORD = re.compile(
    r"\b(wrong(ly)?|incorrect(ly)?|miss(ed)?|errors?|mistakes?|fail(ed|ure)?|unsuccessful|lost|false"
    r"|(not|un) ?(right|correct|successful)|falsch|fehler|faux|fout|errore?|sbagliat\w)\b"
)
"""In the name of a column in which yes or 1 means a wrong answer."""
UNCLEAR = "answer"
"""A column of this name has the key where another has the option chosen; alone it may be either."""
OPTION = re.compile(r"[A-Ja-j]")


@cache
def usual_names() -> dict[str, tuple[str, ...]]:
    """What columns are usually called, by what they hold, likeliest first."""
    text = Path(__file__).with_name("column_names.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(text.splitlines())
    return {row["field"]: tuple(row["names"].split("; ")) for row in rows}


def guess_columns(header: Sequence[str], rows: Iterable[Sequence[str]] = ()) -> Columns:
    """The columns that their names identify, each used once.

    A column `correct` whose cells are all options is the key, not the outcome.
    """
    names = [_plain(name) for name in header]
    found: Columns = {}
    for field, usual in usual_names().items():
        for name in usual:
            if name in names and names.index(name) not in found.values():
                found[field] = names.index(name)
                break
    at = found.get("outcome")
    cells = [row[at] for row in rows if at < len(row) and row[at]] if at is not None else []
    if at is not None and "key" not in found and cells and all(map(OPTION.fullmatch, cells)):
        found["key"] = found.pop("outcome")
    return found


def is_negative(name: str) -> bool:
    """Whether yes in a column of that name means a wrong answer."""
    return NEGATIVE_WORD.search(_plain(name)) is not None


def opposite_columns(columns: Columns, header: Sequence[str]) -> tuple[int, ...]:
    """Columns besides that of the outcome that say the opposite: `Wrong` beside `Correct`."""
    at = columns.get("outcome")
    if at is None:
        return ()
    names = POSITIVE if is_negative(header[at]) else NEGATIVE
    used = columns.values()
    return tuple(n for n, own in enumerate(header) if _plain(own) in names and n not in used)


def unclear(columns: Columns, header: Sequence[str]) -> int | None:
    """The column that may be either the option chosen or the key, by its index."""
    at = columns.get("chosen")
    return at if at is not None and "key" not in columns and _plain(header[at]) == UNCLEAR else None


def _plain(name: str) -> str:
    return " ".join(re.findall(r"[^\W_]+", name.casefold()))


def given_columns(given: Iterable[str], header: Sequence[str]) -> Columns:
    """Columns as given by `field=column`, a column by its name or its number from 1.

    Raises:
        QueryError: No such field or column.
    """
    found: Columns = {}
    for pair in given:
        field, sign, column = (part.strip() for part in pair.partition("="))
        field = field.casefold()
        if not sign:
            hint = "write what it holds, an equals sign and the column, such as item=1"
            raise QueryError(f"'{pair}' is not field=column", hint)
        if field not in TABLE_FIELDS:
            hint = nearest(field, TABLE_FIELDS) or "known are: " + ", ".join(TABLE_FIELDS)
            raise QueryError(f"'{field}' is not a field", hint)
        if column:
            found[field] = column_of(column, header)
    return found


def column_of(name: str, header: Sequence[str]) -> int:
    """The index of one column by its name or its number from 1.

    Raises:
        QueryError: There is no such column.
    """
    plain = [_plain(own) for own in header]
    if _plain(name) in plain:
        return plain.index(_plain(name))
    if (number := whole_number(name)) and number <= len(header):
        return number - 1
    hint = nearest(name, header) or "its columns are: " + ", ".join(header)
    raise QueryError(f"the table has no column '{name}'", hint)


def remembered_columns(remembered: Mapping[str, str], header: Sequence[str]) -> Columns | None:
    """The columns given last time, as far as this table has them; None when that is not enough."""
    found: Columns = {}
    for field, name in remembered.items():
        with suppress(QueryError):
            found[field] = column_of(name, header)
    return None if missing(found) else found


def missing(columns: Columns) -> str:
    """What is still missing before the rows can be read; empty if nothing is."""
    if "question" not in columns and "item" not in columns:
        return "which column holds the question's number (item)"
    if "outcome" not in columns and not {"chosen", "key"} <= columns.keys():
        return "which column holds the outcome (or the chosen option and the key)"
    return ""
