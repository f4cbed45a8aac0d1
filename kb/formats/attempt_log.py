"""The log of attempts: one CSV line (RFC 4180) for each answer, void or dismissal.

Every record is one physical line, so that a damaged line never swallows its neighbours. Lines are
only ever added: a correction is a new line that voids an id.
"""

from __future__ import annotations

import csv
import io
import re
from array import array
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from hashlib import blake2b
from itertools import compress
from typing import TYPE_CHECKING, Any

import numpy as np

from kb.core.errors import Place, Problem, nearest
from kb.core.ids import (
    NOWHERE,
    OUTCOME_OF,
    OUTCOMES,
    REASON_OF,
    REASONS,
    ROUND_OF,
    ROUNDS,
    QuestionId,
    parse_question,
)
from kb.core.model import Attempt, Dismissal
from kb.formats.csv_lines import format_row, read_row
from kb.formats.logged_answers import CODED, Column, LoggedAnswers, joined, plain_columns

if TYPE_CHECKING:
    from numpy.typing import NDArray

HEADER = (
    "id,at,question,area,concept,outcome,first,chosen,key,certainty,seconds,"
    "reason,round,sitting,batch,voids,remark\r\n"
)
COLUMNS = tuple(HEADER.strip().split(","))
NEEDED = ("id", "at", "question", "outcome")
MIDNIGHT = re.compile(r"(\d{4}-?\d\d-?\d\dT)24(:?00(?::?00(?:[.,]0+)?)?(?:Z|[+-]\d\d:?\d\d)?)")
"""The end of a day as ISO 8601 allows it, which not every Python version reads."""
MOMENT_HINT = "write it with its offset, such as 2027-01-14T19:42:00+00:00"
EARLIEST_YEAR = 1990
"""No log begins earlier: an older day is a slip, or comes from a clock that lost its setting."""
TOO_EARLY = datetime.min.replace(tzinfo=UTC)
CERTAINTY_OF = {"": None, "1": 1, "2": 2, "3": 3}
MOST_SECONDS = 1e6
CHUNK = 1_000_000
"""Bytes of lines read together: more would need more memory, fewer more time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Void:
    """A line that takes back an attempt, a dismissal or a whole batch, by its id."""

    id: str
    at: datetime
    voids: str
    batch: str = ""
    remark: str = ""
    place: Place = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class LogFile:
    """What a log file holds, in the order of its lines."""

    attempts: LoggedAnswers
    voids: tuple[Void, ...] = ()
    dismissals: tuple[Dismissal, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def not_answers(self) -> tuple[Dismissal | Void, ...]:
        """The dismissals, then the voids."""
        return (*self.dismissals, *self.voids)


def _given_seconds(text: str) -> float | None:
    seconds = float(text) if text else None
    if seconds is None or 0 <= seconds < MOST_SECONDS:
        return seconds
    raise ValueError(text)


READ: dict[str, Callable[[str], Any]] = {
    "outcome": lambda text: OUTCOME_OF[text],
    "area": str.casefold,
    "certainty": lambda text: CERTAINTY_OF[text],
    "seconds": _given_seconds,
    "reason": lambda text: REASON_OF[text],
    "round": lambda text: ROUND_OF[text],
}
"""How the cells of an answer are read that are more than text."""


def parse_log(raw: bytes, path: str) -> LogFile:
    """Read a log file, see `LogReader`."""
    return LogReader(path).read(raw)


class LogReader:
    """Reads one log file. A line that cannot be read is a Problem; all others count. A last line
    without a line break is torn: it was never acknowledged.

    If the file only grew, it reads the new lines only. `area_of` gives the area of a question whose
    line names none, empty if not known; it is called once for each question.
    """

    def __init__(self, path: str, area_of: Callable[[QuestionId], str] | None = None) -> None:
        self.path = path
        self._area_of = area_of
        self._begin()

    def _begin(self) -> None:
        self.taken = _mark(b"", 0)
        self.known_size = 0  # bytes that the last call did not have to read
        self.line_count = 0
        self.columns: tuple[str, ...] | None = None
        self.order: tuple[int, ...] = ()
        self._sources: set[str] = set()
        self.areas: array[int] = array("i")
        """Code of the area that the settings give to each question, by its code."""
        self.known = {name: Column(READ.get(name, str)) for name in CODED}
        self.known["question"].read = self._question
        self.values = {name: known.meant for name, known in self.known.items()}
        self.values["path"] = [self.path]
        self.parts: list[LoggedAnswers] = []
        self.voids: list[Void] = []
        self.dismissals: list[Dismissal] = []
        self.problems: list[Problem] = []

    def read(self, raw: bytes) -> LogFile:
        """All that the file holds, whose bytes are now `raw`."""
        if _mark(raw, self.taken[0]) != self.taken:
            self._begin()
        self.known_size = self.taken[0]
        end = raw.rfind(b"\n") + 1
        # A list of a million lines is as large again.
        whole, torn = io.BytesIO(raw[:end]), raw[end:]
        whole.seek(self.taken[0] or 3 * raw.startswith(b"\xef\xbb\xbf"))
        for line in whole if self.columns is None else ():
            self.line_count += 1
            row = self._row(line, self.line_count)
            if row is not None:
                self.columns = self._header(row, self.line_count)
                break
        while lines := whole.read(CHUNK) + whole.readline():
            begin = self.line_count + 1
            self.line_count += lines.count(b"\n")
            if self.columns:
                self._take(lines, range(begin, self.line_count + 1))
        self.taken = _mark(raw, end)
        hint = "end it with a line break if it is whole; otherwise log that answer again"
        message = "the last line is cut off; kept aside"
        cut = Problem(Place(self.path, self.line_count + 1), "torn-line", message, hint)
        answers = joined(self.parts)
        lines_read = answers.arrays["line"]
        if (np.diff(lines_read) < 0).any():  # those looked at closer came last
            answers = answers.take(np.argsort(lines_read))
        self.problems.sort(key=lambda problem: problem.place.line)
        self.parts = [answers]
        return LogFile(
            attempts=answers,
            voids=tuple(self.voids),
            dismissals=tuple(self.dismissals),
            problems=(*self.problems, *([cut] if torn else ())),
        )

    def _report(self, line: int, code: str, message: str, hint: str = "") -> None:
        self.problems.append(Problem(Place(self.path, line), code, message, hint))

    def _row(self, line: bytes, number: int) -> list[str] | None:
        if b"\0" in line:
            hint = "the disk or a synchroniser damaged it; log that answer again"
            self._report(number, "damaged-line", "the line holds NUL bytes; left out", hint)
            return None
        try:
            text = line.decode("utf-8").removesuffix("\n").removesuffix("\r")
        except UnicodeDecodeError:
            hint = "save the file as UTF-8"
            self._report(number, "not-utf8", "the line is not UTF-8; left out", hint)
            return None
        try:
            return read_row(text) if text.strip() else None
        except csv.Error as error:
            hint = "a quotation mark inside a field is written twice"
            self._report(number, "bad-csv", f"the line is not CSV ({error}); left out", hint)
            return None

    def _header(self, row: Sequence[str], number: int) -> tuple[str, ...]:
        """The columns that it names; none if one is missing that every line needs."""
        names = tuple(name.strip().casefold() for name in row)
        missing = [name for name in NEEDED if name not in names]
        if missing:
            hint = "the first line names the columns: " + ",".join(COLUMNS)
            message = f"the header lacks {', '.join(missing)}; the file is left out"
            if ";" in row[0]:
                message = "semicolons divide the header, not commas; the file is left out"
                hint = "save it as CSV with commas, in UTF-8; no answer in it is lost"
            self._report(number, "bad-header", message, hint)
            return ()
        if names != COLUMNS:
            at = {name: number for number, name in enumerate(names)}
            self.order = tuple(at.get(column, -1) for column in COLUMNS)
        return names

    def _take(self, lines: bytes, numbers: Sequence[int]) -> None:
        """Read lines below the header."""
        cells = plain_columns(lines, len(self.columns or ()))
        if cells is None:
            every = zip(numbers, lines.split(b"\n"), strict=False)
            read = ((n, self._row(line, n)) for n, line in every)
            fitting = [(n, row) for n, row in read if row is not None and self._fits(row, n)]
            cells = [*zip(*(row for _, row in fitting), strict=True)]
            numbers = [n for n, _ in fitting]
        if cells:
            empty = ("",) * len(numbers)
            if self.order:
                cells = [cells[at] if at >= 0 else empty for at in self.order]
            self._add(cells, numbers)

    def _fits(self, row: Sequence[str], number: int) -> bool:
        count = len(self.columns or ())
        if len(row) == count:
            return True
        few = "few" if len(row) < count else "many"
        message = f"too {few} fields: {len(row)} instead of {count}; left out"
        hint = "put a field that holds a comma in quotation marks"
        self._report(number, f"{few}-fields", message, hint)
        return False

    def _add(self, cells: Sequence[Sequence[str]], numbers: Sequence[int]) -> None:
        """Take answers, given as columns, in the form in which we write them; look closer at lines
        in any other.
        """
        column = dict(zip(COLUMNS, cells, strict=True))
        arrays: dict[str, NDArray[Any]] = {n: self.known[n].codes(column[n]) for n in CODED}
        whens = _moments(column["at"])
        arrays["day"] = np.fromiter(map(datetime.toordinal, whens), np.int32, len(whens))
        good = np.minimum.reduce([*arrays.values()]) >= 0
        good &= arrays["day"] >= date(EARLIEST_YEAR, 1, 1).toordinal()
        arrays["moment"] = np.fromiter(map(datetime.timestamp, whens), float, len(whens))
        arrays["line"] = np.array(numbers, np.int32)
        arrays["path"] = np.zeros(len(whens), np.int32)
        areas = self.known["area"]
        for question in self.known["question"].meant[len(self.areas) :]:
            self.areas.append(areas[self._area_of(question) if self._area_of else ""])
        own = np.append(np.array(self.areas, np.int32), 0)[arrays["question"]]
        arrays["area"] = np.where(arrays["area"] == areas[""], own, arrays["area"])
        texts = [column["id"], column["at"]]
        if not good.all():
            texts = [[*compress(own, good)] for own in texts]
            arrays = {name: array[good] for name, array in arrays.items()}
        ids, written = map("\n".join, texts)
        self.parts.append(LoggedAnswers((ids, written), arrays, self.values))
        for place in np.flatnonzero(~good).tolist():
            self._look_closer([own[place] for own in cells], numbers[place])

    def _question(self, text: str) -> QuestionId:
        """The question of a cell; KeyError if it is none."""
        source, _, item = text.partition(":")
        if source in self._sources and item.isascii() and item.isdigit():
            return text  # type: ignore[return-value] # quicker, and so are nearly all
        question = parse_question(text)
        if question is None:
            raise KeyError(text)
        self._sources.add(question.partition(":")[0])
        return question

    def _look_closer(self, row: Sequence[str], number: int) -> None:
        """Read a void, a dismissal, or an answer in another spelling; note what is wrong."""
        cells = dict(zip(COLUMNS, row, strict=True))
        at, question = parse_moment(cells["at"]), parse_question(cells["question"])
        outcome = cells["outcome"].strip().casefold()
        own, remark, place = cells["id"], cells["remark"], Place(self.path, number)
        if at is None:
            message = f"'{cells['at']}' is not a moment; left out"
            self._report(number, "bad-date", message, MOMENT_HINT)
        elif outcome == "void":
            voids, batch = cells["voids"], cells["batch"]
            self.voids.append(
                Void(id=own, at=at, voids=voids, batch=batch, remark=remark, place=place)
            )
        elif question is None:
            message = f"'{cells['question']}' is not a question reference; left out"
            self._report(number, "bad-question", message, "write source:number, such as north:1041")
        elif outcome == "aside":
            reason = cells["reason"]
            self.dismissals.append(
                Dismissal(
                    id=own, at=at, question=question, reason=reason, remark=remark, place=place
                )
            )
        elif outcome in OUTCOME_OF:
            cells |= {"at": at.isoformat(), "outcome": outcome} | self._cleaned(cells, number)
            self._add([[cell] for cell in cells.values()], [number])
        else:
            hint = "write one of " + ", ".join((*OUTCOMES, "void", "aside"))
            self._report(number, "bad-outcome", f"unknown outcome '{outcome}'; left out", hint)

    def _cleaned(self, cells: Mapping[str, str], number: int) -> dict[str, str]:
        """Cells of an answer as we write them; a value not understood is noted and dropped."""
        return {
            "certainty": self._certainty(cells["certainty"], number),
            "seconds": self._seconds(cells["seconds"], number),
            "reason": self._word(cells["reason"], REASONS, "reason", number),
            "round": self._word(cells["round"], ROUNDS, "round", number),
        }

    def _word(self, text: str, known: tuple[str, ...], name: str, number: int) -> str:
        word = text.strip().casefold()
        if not word or word in known:
            return word
        return self._drop(number, f"bad-{name}", f"unknown {name} '{text}'", nearest(word, known))

    def _certainty(self, text: str, number: int) -> str:
        if text in CERTAINTY_OF:
            return text
        return self._drop(number, "bad-certainty", f"certainty '{text}' is not 1, 2 or 3")

    def _seconds(self, text: str, number: int) -> str:
        try:
            if not text or 0 <= float(text) < MOST_SECONDS:
                return text
        except ValueError:
            pass
        return self._drop(number, "bad-seconds", f"seconds '{text}' is not a number of seconds")

    def _drop(self, number: int, code: str, message: str, hint: str = "") -> str:
        self._report(number, code, f"{message}; the answer counts without it", hint)
        return ""


def _moments(texts: Sequence[str]) -> list[datetime]:
    """A moment for each text, before the earliest year where it is not one with its offset."""
    try:
        found = [*map(datetime.fromisoformat, texts)]
    except ValueError:
        found = [_moment(text) or TOO_EARLY for text in texts]
    return [when if when.tzinfo else TOO_EARLY for when in found]


def _moment(text: str) -> datetime | None:
    try:
        return datetime.fromisoformat(text)
    except ValueError:
        return None


def _mark(raw: bytes, size: int) -> tuple[int, bytes]:
    """Identifies the first `size` bytes."""
    return size, blake2b(memoryview(raw)[:size]).digest()


def parse_moment(text: str) -> datetime | None:
    """A moment with its offset, as in the log; None if the text is not one."""
    midnight = MIDNIGHT.fullmatch(text)
    try:
        at = datetime.fromisoformat(f"{midnight[1]}00{midnight[2]}" if midnight else text)
        at += timedelta(days=1 if midnight else 0)
    except (ValueError, OverflowError):
        return None
    # A clock that lost its setting; besides, arithmetic fails near the first day of the calendar.
    return None if at.utcoffset() is None or at.year < EARLIEST_YEAR else at


def cells_of(record: Attempt | Dismissal | Void) -> dict[str, str]:
    """The cells that a record fills, by column."""
    values = {name: getattr(record, name, None) for name in COLUMNS} | {"at": record.at.isoformat()}
    return {
        name: f"{value:.6g}" if isinstance(value, float) else str("" if value is None else value)
        for name, value in values.items()
    }


def format_attempt(attempt: Attempt) -> str:
    """One line of the log with its line end."""
    return format_row(cells_of(attempt), COLUMNS)


def format_void(void: Void) -> str:
    """The line that takes back another one, or a whole import."""
    return format_row(cells_of(void) | {"outcome": "void"}, COLUMNS)


def format_dismissal(dismissal: Dismissal) -> str:
    """The line that dismisses a miss for good."""
    return format_row(cells_of(dismissal) | {"outcome": "aside"}, COLUMNS)
