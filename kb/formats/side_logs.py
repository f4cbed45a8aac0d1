"""The logs beside the answers: readings, draws, bare scores, and answer sheets logged.

Each is a CSV file, one record a line. One codec reads and writes them all; a log names its columns
and what each of them holds.
"""

import csv
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime
from hashlib import blake2b
from typing import Any, Generic, NamedTuple, TypeVar

from kb.core.errors import Place, Problem
from kb.core.ids import RENAME_KIND_OF, ROUND_OF, parse_question
from kb.core.model import Drawn, Reading, ReadingChoice, Renamed, Score
from kb.core.wording import listed
from kb.formats.attempt_log import parse_moment
from kb.formats.csv_lines import format_row, one_line, read_row

Record = TypeVar("Record")
LONGEST_READING = 1e6
"""Seconds; more is a slip of the clock or the pen."""


class Cell(NamedTuple):
    """How a value is read from a cell, and written to one. Reading raises KeyError or ValueError
    for text that is no such value.
    """

    read: Callable[[str], Any]
    write: Callable[[Any], str] = str


def _valid(value: Record | None) -> Record:
    if value is None:
        raise ValueError("not a value")
    return value


def _seconds(text: str) -> float | None:
    seconds = float(text) if text else None
    if seconds is not None and not 0 <= seconds < LONGEST_READING:
        raise ValueError(text)
    return seconds


TEXT, NUMBER = Cell(str), Cell(int)
FILLED = Cell(lambda text: _valid(one_line(text) or None))
YES = Cell(lambda text: text == "yes", lambda value: "yes" if value else "")
ORDERS = {"early": True, "late": False}
CELLS = {
    **dict.fromkeys(("id", "seed", "area", "name", "digest", "batch", "title", "content"), TEXT),
    **dict.fromkeys(("note", "miss", "draw", "sitting", "old", "new", "uid", "slot"), FILLED),
    **dict.fromkeys(("position", "right", "items", "size", "sequence"), NUMBER),
    **dict.fromkeys(("official", "cancelled"), YES),
    "at": Cell(lambda text: _valid(parse_moment(text)), datetime.isoformat),
    "day": Cell(date.fromisoformat, date.isoformat),
    "seconds": Cell(_seconds, lambda value: "" if value is None else f"{value:.6g}"),
    "question": Cell(lambda text: _valid(parse_question(text))),
    "round": Cell(lambda text: ROUND_OF[_valid(text or None)]),
    "kind": Cell(lambda text: RENAME_KIND_OF[text]),
    "order": Cell(lambda text: ORDERS[text], lambda value: "early" if value else "late"),
}
"""What each column holds."""
ATTRIBUTES = {"right": "right_count", "items": "item_count", "order": "early"}
"""Names of attributes that differ from those of their columns."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SideLog(Generic[Record]):
    """A log of one kind of record.

    The names of its files begin with `stem`; `names` are those of its columns, in order; `key` are
    the attributes that tell one record from another. `fits` says whether a record whose cells are
    all valid is valid as a whole. In messages a record is called `what`, and a line has what it
    `holds`, else its columns. `code` is that of the problem with a line that is no record; empty
    where none is shown.
    """

    stem: str
    record: Callable[..., Record]
    names: str
    what: str
    holds: str = ""
    code: str = ""
    key: tuple[str, ...] = ("id",)
    fits: Callable[[Record], bool] = lambda _: True

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of the columns, in order."""
        return tuple(self.names.split(","))

    @property
    def header(self) -> str:
        """The first line of a file, with its line end."""
        return f"{self.names}\r\n"

    def format(self, *records: Record) -> str:
        """One line a record, each with its line end."""
        cells = [(name, ATTRIBUTES.get(name, name)) for name in self.columns]
        rows = ({n: CELLS[n].write(getattr(one, own)) for n, own in cells} for one in records)
        return "".join(format_row(row, self.columns) for row in rows)

    def parse(self, raw: bytes, path: str) -> tuple[tuple[Record, ...], tuple[Problem, ...]]:
        """Every record of a whole file below its header; a line that cannot be read is a Problem. A
        last line without a line break was never acknowledged.
        """
        found: list[Record] = []
        problems: list[Problem] = []
        names = listed([{"at": "moment with offset"}.get(name, name) for name in self.columns])
        hint = f"a line has {self.holds or names}"

        def report(line: int, message: str) -> None:
            problems.append(Problem(Place(path, line), self.code, message, hint))

        lines = raw.removeprefix(b"\xef\xbb\xbf").split(b"\n")
        torn = lines.pop()
        for number, line in enumerate(lines[1:], start=2):
            if line.strip():
                record = self._record(line)
                if record is None:
                    report(number, f"this is not {self.what}; left out")
                else:
                    found.append(record)
        if torn.strip():
            report(len(lines) + 1, "the last line is cut off; kept aside")
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
            row = read_row(line.decode("utf-8").removesuffix("\r"))
            values = {
                ATTRIBUTES.get(name, name): CELLS[name].read(text)
                for name, text in zip(self.columns, row, strict=True)
            }
        except (ValueError, KeyError, csv.Error):
            return None
        record = self.record(**values)
        return record if self.fits(record) else None


READINGS: SideLog[Reading] = SideLog(
    stem="readings",
    record=Reading,
    names="id,at,note,seconds",
    code="bad-reading",
    what="a reading",
)
"""Which note was read when, and for how long."""

CHANCE_ORDER: SideLog[ReadingChoice] = SideLog(
    stem="chance-order",
    record=ReadingChoice,
    names="at,note,miss,order",
    code="bad-choice",
    key=("note", "miss"),
    what="a choice of order",
    holds="moment with offset, note, id of the miss, and early or late",
)
"""What chance chose for the reading list; the first choice for a note and a miss holds."""

DRAWS: SideLog[Drawn] = SideLog(
    stem="draws",
    record=Drawn,
    names="at,draw,round,seed,position,question",
    code="bad-draw",
    key=("draw", "position"),
    what="a drawn question",
)
"""Which question was drawn when, for which round, from which seed."""

HELD_BACK: SideLog[Drawn] = replace(
    DRAWS, stem="held-back", code="bad-held-back", what="a question held back"
)
"""Which questions are held back unseen, chosen once."""

SCORES: SideLog[Score] = SideLog(
    stem="scores",
    record=Score,
    names="id,at,sitting,area,right,items,official",
    fits=lambda score: 0 <= score.right_count <= score.item_count,
    code="bad-score",
    what="a score",
)
"""Papers of which only the score is known, by area or as a whole."""


RENAMES: SideLog[Renamed] = SideLog(
    stem="renames",
    record=Renamed,
    names="id,at,kind,old,new",
    code="bad-rename",
    what="a change of a name",
    holds="id, moment with offset, area, source, concept or item, old and new name",
    fits=lambda renamed: renamed.id != "",
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
    names="at,name,size,digest,day,batch",
    key=("name", "digest", "size", "day", "batch"),
    what="a sheet",
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
    names="at,uid,slot,day,title,content,sequence,cancelled",
    key=("uid", "sequence", "content", "cancelled"),
    what="an event",
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
