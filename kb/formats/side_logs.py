"""The logs beside the answers: readings, draws, bare scores, and answer sheets logged.

Each is a CSV file with one line a record. One codec reads and writes them all; a log says only
which columns it has and how a record becomes cells and back.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from datetime import date, datetime
from hashlib import blake2b
from typing import TYPE_CHECKING, Generic, TypeVar

from kb.core.errors import Place, Problem
from kb.core.ids import ROUND_OF, AreaId, NoteId, parse_question
from kb.core.model import Drawn, Reading, Score
from kb.formats.log_lines import format_row

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

Record = TypeVar("Record")
Cells = dict[str, str]
LONGEST_READING = 1e6
"""Seconds; more is a slip of the clock or the pen."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SideLog(Generic[Record]):
    """A log of one kind of record.

    `stem` begins the names of its files; `what` names a record in messages. `code` is that of the
    problem with a line that is not one, empty for a log whose problems are not shown. `to_record`
    gives None, or raises KeyError or ValueError, for cells that are not such a record.
    """

    stem: str
    columns: tuple[str, ...]
    what: str
    hint: str
    to_record: Callable[[Cells], Record | None]
    to_cells: Callable[[Record], Cells]
    code: str = ""

    @property
    def header(self) -> str:
        """The first line of a file, with its line end."""
        return ",".join(self.columns) + "\r\n"

    def format(self, *records: Record) -> str:
        """One line a record, each with its line end."""
        return "".join(format_row(self.to_cells(record), self.columns) for record in records)

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
            message = "the last line is cut off; set aside"
            problems.append(self._problem(path, len(lines) + 1, message))
        return tuple(found), tuple(problems)

    def _record(self, line: bytes) -> Record | None:
        try:
            text = line.decode("utf-8").removesuffix("\r")
            row = next(csv.reader([text], strict=True))
            return self.to_record(dict(zip(self.columns, row, strict=True)))
        except (ValueError, KeyError, csv.Error, StopIteration):
            return None

    def _problem(self, path: str, line: int, message: str) -> Problem:
        return Problem(place=Place(path, line), code=self.code, message=message, hint=self.hint)


def _moment(text: str) -> datetime:
    """A moment with its offset.

    Raises:
        ValueError: It is not a moment, or has no offset.
    """
    at = datetime.fromisoformat(text)
    if at.utcoffset() is None:
        raise ValueError("no offset")
    return at


def _to_reading(cells: Cells) -> Reading | None:
    seconds = float(cells["seconds"]) if cells["seconds"] else None
    if not cells["note"] or (seconds is not None and not 0 <= seconds < LONGEST_READING):
        return None
    note = NoteId(cells["note"])
    return Reading(id=cells["id"], at=_moment(cells["at"]), note=note, seconds=seconds)


def _of_reading(reading: Reading) -> Cells:
    return {
        "id": reading.id,
        "at": reading.at.isoformat(),
        "note": reading.note,
        "seconds": "" if reading.seconds is None else f"{reading.seconds:.6g}",
    }


READINGS: SideLog[Reading] = SideLog(
    stem="readings",
    columns=("id", "at", "note", "seconds"),
    code="bad-reading",
    what="a reading",
    hint="a line has id, moment with offset, note and seconds",
    to_record=_to_reading,
    to_cells=_of_reading,
)
"""Which note was read when, and for how long."""


def _to_drawn(cells: Cells) -> Drawn | None:
    question, round_ = parse_question(cells["question"]), ROUND_OF[cells["round"]]
    if question is None or not cells["draw"] or not round_:
        return None
    return Drawn(
        at=_moment(cells["at"]),
        draw=cells["draw"],
        round=round_,
        seed=cells["seed"],
        position=int(cells["position"]),
        question=question,
    )


def _of_drawn(drawn: Drawn) -> Cells:
    return {
        "at": drawn.at.isoformat(),
        "draw": drawn.draw,
        "round": drawn.round,
        "seed": drawn.seed,
        "position": str(drawn.position),
        "question": drawn.question,
    }


DRAWS: SideLog[Drawn] = SideLog(
    stem="draws",
    columns=("at", "draw", "round", "seed", "position", "question"),
    code="bad-draw",
    what="a drawn question",
    hint="a line has moment with offset, draw, round, seed, position and question",
    to_record=_to_drawn,
    to_cells=_of_drawn,
)
"""Which question was drawn when, for which round, from which seed."""

RESERVE: SideLog[Drawn] = replace(
    DRAWS, stem="reserve", code="bad-reserve", what="a question held back"
)
"""Which questions are held back unseen, chosen once."""


def _to_score(cells: Cells) -> Score | None:
    right_count, item_count = int(cells["right"]), int(cells["items"])
    if not cells["sitting"] or not 0 <= right_count <= item_count:
        return None
    return Score(
        id=cells["id"],
        at=_moment(cells["at"]),
        sitting=cells["sitting"],
        area=AreaId(cells["area"]),
        right_count=right_count,
        item_count=item_count,
        official=cells["official"] == "yes",
    )


def _of_score(score: Score) -> Cells:
    return {
        "id": score.id,
        "at": score.at.isoformat(),
        "sitting": score.sitting,
        "area": score.area,
        "right": str(score.right_count),
        "items": str(score.item_count),
        "official": "yes" if score.official else "",
    }


SCORES: SideLog[Score] = SideLog(
    stem="scores",
    columns=("id", "at", "sitting", "area", "right", "items", "official"),
    code="bad-score",
    what="a score",
    hint="a line has id, at, sitting, area, right, items, official",
    to_record=_to_score,
    to_cells=_of_score,
)
"""Papers of which only the score is known, by area or as a whole."""


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


def _to_sheet(cells: Cells) -> LoggedSheet:
    return LoggedSheet(
        at=_moment(cells["at"]),
        name=cells["name"],
        size=int(cells["size"]),
        digest=cells["digest"],
        day=date.fromisoformat(cells["day"]),
        batch=cells["batch"],
    )


def _of_sheet(sheet: LoggedSheet) -> Cells:
    return {
        "at": sheet.at.isoformat(),
        "name": sheet.name,
        "size": str(sheet.size),
        "digest": sheet.digest,
        "day": sheet.day.isoformat(),
        "batch": sheet.batch,
    }


SHEETS: SideLog[LoggedSheet] = SideLog(
    stem="sheets",
    columns=("at", "name", "size", "digest", "day", "batch"),
    what="a sheet",
    hint="a line has moment with offset, name, size, digest, day and import",
    to_record=_to_sheet,
    to_cells=_of_sheet,
)
"""Sheets logged, so that none is logged twice. It cannot be rebuilt from anything else."""


def sheet_digest(raw: bytes) -> str:
    """What a sheet's content is known by, wherever it lies."""
    return blake2b(raw, digest_size=16).hexdigest()


def lines_logged(raw: bytes, logged: Iterable[LoggedSheet]) -> int:
    """How many lines at the top of a sheet were logged before, if it has only grown since.

    0 if it is new, or was changed elsewhere than at its end.
    """
    sizes = {(sheet.size, sheet.digest) for sheet in logged if sheet.size <= len(raw)}
    whole = [size for size, digest in sizes if size and sheet_digest(raw[:size]) == digest]
    return raw[: max(whole)].count(b"\n") if whole else 0
