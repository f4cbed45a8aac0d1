"""The logs beside the answers: readings, draws, bare scores, and answer sheets logged.

Each is a CSV file, one record a line. One codec reads and writes them all; a log names its columns
and what each of them holds.
"""

import csv
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from hashlib import blake2b
from typing import Any, Generic, NamedTuple, TypeVar

from kb.core.errors import Place, Problem
from kb.core.ids import RENAME_KIND_OF, ROUND_OF, QuestionId, parse_question
from kb.core.model import Drawn, Reading, ReadingChoice, Renamed, Score
from kb.formats.csv_cells import unquoted
from kb.formats.log_lines import format_row

Record = TypeVar("Record")
LONGEST_READING = 1e6
"""Seconds; more is a slip of the clock or the pen."""


class Cell(NamedTuple):
    """How a value is read from a cell, and written to one. Reading raises KeyError or ValueError
    for text that is no such value.
    """

    read: Callable[[str], Any]
    write: Callable[[Any], str] = str


def _filled(text: str) -> str:
    if not text:
        raise ValueError("empty")
    return text


def _moment(text: str) -> datetime:
    at = datetime.fromisoformat(text)
    if at.utcoffset() is None:
        raise ValueError("no offset")
    return at


def _seconds(text: str) -> float | None:
    seconds = float(text) if text else None
    if seconds is not None and not 0 <= seconds < LONGEST_READING:
        raise ValueError(text)
    return seconds


def _question(text: str) -> QuestionId:
    question = parse_question(text)
    if question is None:
        raise ValueError(text)
    return question


TEXT, FILLED, NUMBER = Cell(str), Cell(_filled), Cell(int)
MOMENT = Cell(_moment, datetime.isoformat)
DAY = Cell(date.fromisoformat, date.isoformat)


@dataclass(frozen=True, slots=True, kw_only=True)
class SideLog(Generic[Record]):
    """A log of one kind of record.

    Attributes:
        stem: What the names of its files begin with.
        record: The class of its records.
        cells: What each column holds, in order.
        attributes: Names of attributes that differ from those of their columns.
        key: Attributes that tell one record from another.
        fits: Whether a record whose cells are all valid is valid as a whole.
        what: A record as messages name it.
        code: That of the problem with a line that is no record; empty where none is shown.
    """

    stem: str
    record: Callable[..., Record]
    cells: Mapping[str, Cell]
    what: str
    hint: str
    code: str = ""
    key: tuple[str, ...] = ("id",)
    attributes: Mapping[str, str] = field(default_factory=dict)
    fits: Callable[[Record], bool] = lambda _: True

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns, in order."""
        return tuple(self.cells)

    @property
    def header(self) -> str:
        """The first line of a file, with its line end."""
        return ",".join(self.cells) + "\r\n"

    def format(self, *records: Record) -> str:
        """One line a record, each with its line end."""
        rows = (
            {
                name: cell.write(getattr(record, self.attributes.get(name, name)))
                for name, cell in self.cells.items()
            }
            for record in records
        )
        return "".join(format_row(row, self.columns) for row in rows)

    def parse(self, raw: bytes, path: str) -> tuple[tuple[Record, ...], tuple[Problem, ...]]:
        """Every record of a file below its header; a line that cannot be read is a Problem.

        Args:
            raw: The whole file. A last line without a line break was never acknowledged.
            path: How places name it.
        """
        found: list[Record] = []
        problems: list[Problem] = []
        lines = raw.removeprefix(b"\xef\xbb\xbf").split(b"\n")
        torn = lines.pop()
        for number, line in enumerate(lines[1:], start=2):
            if line.strip():
                record = self._record(line)
                if record is None:
                    message = f"this is not {self.what}; left out"
                    problems.append(self._problem(path, number, message))
                else:
                    found.append(record)
        if torn.strip():
            message = "the last line is cut off; kept aside"
            problems.append(self._problem(path, len(lines) + 1, message))
        return tuple(found), tuple(problems)

    def union(self, records: Iterable[Record]) -> tuple[Record, ...]:
        """Every record once, as it came first, in order of time."""
        once: dict[tuple[Any, ...], Record] = {}
        for record in records:
            once.setdefault(tuple(getattr(record, name) for name in self.key), record)
        order = ("at", *self.key)
        return tuple(sorted(once.values(), key=lambda r: [getattr(r, name) for name in order]))

    def _record(self, line: bytes) -> Record | None:
        try:
            row = next(csv.reader([line.decode("utf-8").removesuffix("\r")], strict=True))
            values = {
                self.attributes.get(name, name): cell.read(unquoted(text))
                for (name, cell), text in zip(self.cells.items(), row, strict=True)
            }
        except (ValueError, KeyError, csv.Error, StopIteration):
            return None
        record = self.record(**values)
        return record if self.fits(record) else None

    def _problem(self, path: str, line: int, message: str) -> Problem:
        return Problem(place=Place(path, line), code=self.code, message=message, hint=self.hint)


READINGS: SideLog[Reading] = SideLog(
    stem="readings",
    record=Reading,
    cells={
        "id": TEXT,
        "at": MOMENT,
        "note": FILLED,
        "seconds": Cell(_seconds, lambda value: "" if value is None else f"{value:.6g}"),
    },
    code="bad-reading",
    what="a reading",
    hint="a line has id, moment with offset, note and seconds",
)
"""Which note was read when, and for how long."""

CHANCE_ORDER: SideLog[ReadingChoice] = SideLog(
    stem="chance-order",
    record=ReadingChoice,
    cells={
        "at": MOMENT,
        "note": FILLED,
        "miss": FILLED,
        "order": Cell(
            lambda text: {"early": True, "late": False}[text],
            lambda value: "early" if value else "late",
        ),
    },
    attributes={"order": "early"},
    code="bad-choice",
    key=("note", "miss"),
    what="a choice of order",
    hint="a line has moment with offset, note, id of the miss, and early or late",
)
"""What chance chose for the reading list; the first choice for a note and a miss holds."""

DRAWS: SideLog[Drawn] = SideLog(
    stem="draws",
    record=Drawn,
    cells={
        "at": MOMENT,
        "draw": FILLED,
        "round": Cell(lambda text: ROUND_OF[_filled(text)]),
        "seed": TEXT,
        "position": NUMBER,
        "question": Cell(_question),
    },
    code="bad-draw",
    key=("draw", "position"),
    what="a drawn question",
    hint="a line has moment with offset, draw, round, seed, position and question",
)
"""Which question was drawn when, for which round, from which seed."""

HELD_BACK: SideLog[Drawn] = replace(
    DRAWS, stem="held-back", code="bad-held-back", what="a question held back"
)
"""Which questions are held back unseen, chosen once."""

SCORES: SideLog[Score] = SideLog(
    stem="scores",
    record=Score,
    cells={
        "id": TEXT,
        "at": MOMENT,
        "sitting": FILLED,
        "area": TEXT,
        "right": NUMBER,
        "items": NUMBER,
        "official": Cell(lambda text: text == "yes", lambda value: "yes" if value else ""),
    },
    attributes={"right": "right_count", "items": "item_count"},
    fits=lambda score: 0 <= score.right_count <= score.item_count,
    code="bad-score",
    what="a score",
    hint="a line has id, at, sitting, area, right, items, official",
)
"""Papers of which only the score is known, by area or as a whole."""


RENAMES: SideLog[Renamed] = SideLog(
    stem="renames",
    record=Renamed,
    cells={
        "id": FILLED,
        "at": MOMENT,
        "kind": Cell(lambda text: RENAME_KIND_OF[text]),
        "old": FILLED,
        "new": FILLED,
    },
    code="bad-rename",
    what="a change of a name",
    hint="a line has id, moment with offset, area, source, concept or item, old and new name",
)
"""Which area, source, concept or question got another name when."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedSheet:
    """An answer sheet as it was when its answers were logged.

    `size` is in bytes, `day` the day of answers without a date, `batch` the id of its import
    (empty if it added nothing).
    """

    at: datetime
    name: str
    size: int
    digest: str
    day: date
    batch: str = ""


SHEETS: SideLog[LoggedSheet] = SideLog(
    stem="sheets",
    record=LoggedSheet,
    cells={
        "at": MOMENT,
        "name": TEXT,
        "size": NUMBER,
        "digest": TEXT,
        "day": DAY,
        "batch": TEXT,
    },
    key=("name", "digest", "size", "day", "batch"),
    what="a sheet",
    hint="a line has moment with offset, name, size, digest, day and import",
)
"""Sheets logged, so that none is logged twice. It cannot be rebuilt from anything else."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarRow:
    """An event of the plan as it was last written to a calendar file.

    `slot` is what it is for, `content` a digest of what it said. `sequence` counts its revisions
    (RFC 5545, section 3.8.7.4).
    """

    at: datetime
    uid: str
    slot: str
    day: date
    title: str
    content: str
    sequence: int
    cancelled: bool = False


CALENDAR: SideLog[CalendarRow] = SideLog(
    stem="calendar",
    record=CalendarRow,
    cells={
        "at": MOMENT,
        "uid": FILLED,
        "slot": FILLED,
        "day": DAY,
        "title": TEXT,
        "content": TEXT,
        "sequence": NUMBER,
        "cancelled": Cell(lambda text: text == "yes", lambda value: "yes" if value else ""),
    },
    key=("uid", "sequence", "content", "cancelled"),
    what="an event",
    hint="a line has at, uid, slot, day, title, content, sequence and cancelled",
)
"""Events that calendar files have held, so that a later file can change and cancel them."""


def sheet_digest(raw: bytes) -> str:
    """Identifies a sheet by its content, wherever it lies."""
    return blake2b(raw, digest_size=16).hexdigest()


def lines_logged(raw: bytes, logged: Iterable[LoggedSheet]) -> int:
    """How many lines at the top of a sheet were logged before, if it has only grown since.

    0 if it is new, or was changed anywhere but at its end.
    """
    sizes = {(sheet.size, sheet.digest) for sheet in logged if sheet.size <= len(raw)}
    whole = [size for size, digest in sizes if size and sheet_digest(raw[:size]) == digest]
    return raw[: max(whole)].count(b"\n") if whole else 0
