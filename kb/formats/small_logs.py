"""What the small logs share (readings, scores, draws): one CSV line for one record.

Each log has a codec of its own that knows its columns; how a file falls into lines, and what is
said of a line that cannot be read, stands here once.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

from kb.core.errors import Place, Problem

if TYPE_CHECKING:
    from collections.abc import Callable

Record = TypeVar("Record")


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """How a line that cannot be read is named: the code, what it is not, and what it should be."""

    code: str
    what: str
    hint: str


def parse_lines(
    raw: bytes, path: str, parse: Callable[[list[str]], Record | None], wanted: Wanted
) -> tuple[tuple[Record, ...], tuple[Problem, ...]]:
    """Every record of a file below its header; a line that cannot be read is a Problem.

    Args:
        raw: The whole file. A last line that no line break ends was never acknowledged.
        path: How places name it.
        parse: The cells of one line -> a record; None, KeyError or ValueError if it is none.
        wanted: What to say of such a line.
    """
    found: list[Record] = []
    problems: list[Problem] = []

    def report(number: int, message: str) -> None:
        place = Place(path, number)
        problems.append(Problem(place=place, code=wanted.code, message=message, hint=wanted.hint))

    lines = raw.removeprefix(b"\xef\xbb\xbf").split(b"\n")
    torn = lines.pop()
    for number, line in enumerate(lines[1:], start=2):
        if line.strip():
            record = _record(line, parse)
            if record is None:
                report(number, f"this is not {wanted.what}; left out")
            else:
                found.append(record)
    if torn.strip():
        report(len(lines) + 1, "the last line is cut off; set aside")
    return tuple(found), tuple(problems)


def _record(line: bytes, parse: Callable[[list[str]], Record | None]) -> Record | None:
    try:
        return parse(next(csv.reader([line.decode("utf-8").removesuffix("\r")], strict=True)))
    except (ValueError, KeyError, csv.Error, StopIteration):
        return None
