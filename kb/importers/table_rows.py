"""Rows of a table -> attempts without ids; a row that is not understood is reported."""

import re
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from functools import cached_property
from typing import TypeVar
from zoneinfo import ZoneInfo

from kb.core.errors import NotFoundError, Place, Problem
from kb.core.ids import (
    REASON_OF,
    ROUND_OF,
    AreaId,
    AttemptId,
    Outcome,
    QuestionId,
    parse_new_question,
)
from kb.core.model import Attempt
from kb.core.settings import Exam, Study
from kb.core.wording import listed
from kb.formats.answer_sheet.answer_codes import tidy
from kb.formats.answer_sheet.parser import NOBODY_HINT
from kb.formats.attempt_log import EARLIEST_YEAR
from kb.importers.block import round_of
from kb.importers.cell_values import (
    CERTAINTIES,
    Reading,
    compare_options,
    find_reading,
    moment,
    parse_clock,
    parse_mark,
    parse_reason,
    parse_seconds,
    parse_when,
    split_option,
)
from kb.importers.column_mapping import Columns, is_negative, opposite_columns
from kb.importers.table_reader import Grid, Row
from kb.language.patient_identifiers import find_identifiers

NOON = time(12)
ONE_OUTCOME = "correct the row, or leave out the column that is wrong"
PLAIN_NUMBER = re.compile(r"0*([1-9]\d*)(?:\.0+)?")
"""A number as tables have it: with noughts before it, or as a decimal."""
NO_ITEM = re.compile(r"-.*|\d\.\d+e\+\d+|(\d{1,9})\s?[-\u2013]\s?(\d{1,9})", re.I)
"""A number below nought, one that a spreadsheet shortened, or a range."""
LONGEST_REFERENCE = 60
"""A longer one is the text of a question, which never goes into the log."""
T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class TableAnswers:
    """What a table holds; `timed` if its rows have a time of day.

    `notes` say how the cells were read. `left` are the rows left out: (line, text).
    """

    drafts: tuple[Attempt, ...]
    timed: bool
    notes: tuple[str, ...]
    left: tuple[tuple[int, str], ...]
    problems: tuple[Problem, ...]


class _RowError(Exception):
    def __init__(self, code: str, message: str, hint: str = "") -> None:
        super().__init__(message)
        self.code, self.hint = code, hint


@dataclass(kw_only=True)
class TableRows:
    """The rows of a table, and all that decides what one means.

    `source` is that of items that do not name theirs, `day` that of rows without one; answers later
    than `today` are refused. `no_patient` is the person's word that no cell identifies a patient.
    """

    grid: Grid
    columns: Columns
    exam: Exam
    study: Study
    source: str
    today: date
    day: date
    no_patient: bool = False
    _areas: dict[str, AreaId | None] = field(default_factory=dict)
    _problems: list[Problem] = field(default_factory=list)

    @cached_property
    def reading(self) -> Reading:
        """How dates and numbers are written in it."""
        dates, seconds = self._column("date"), self._column("seconds")
        return find_reading(dates, seconds, day_first=self.study.day_first)

    def answers(self, step: Callable[[], None] = lambda: None) -> TableAnswers:
        """The answers of all rows; `step` is called after each, for a progress bar."""
        drafts: list[Attempt] = []
        left: list[tuple[int, str]] = []
        for row in self.grid.rows:
            try:
                drafts.append(self._draft(row))
            except _RowError as error:
                left.append((row.line, self.grid.separator.join(row.cells)))
                self._report(row, error.code, str(error), error.hint)
            step()
        timed = any(draft.at.time() != NOON for draft in drafts)
        if not timed:
            drafts = _in_order(drafts)
        return TableAnswers(
            drafts=tuple(drafts),
            timed=timed,
            notes=(*self.grid.notes, *self.reading.notes),
            left=tuple(left),
            problems=tuple(self._problems),
        )

    def _column(self, field: str) -> Iterable[str]:
        at = self.columns.get(field)
        if at is None:
            return ()
        return [row.cells[at] for row in self.grid.rows if at < len(row.cells)]

    def _cell(self, row: Row, field: str) -> str:
        at = self.columns.get(field)
        return "" if at is None else self._text(row, at)

    def _text(self, row: Row, at: int) -> str:
        return row.cells[at] if at < len(row.cells) else ""

    def _report(self, row: Row, code: str, message: str, hint: str = "") -> None:
        self._problems.append(Problem(Place(self.grid.path, row.line), code, message, hint))

    def _draft(self, row: Row) -> Attempt:
        if any(row.cells[len(self.grid.header) :]):
            hint = "put a cell that holds the separator in quotation marks"
            raise _RowError("many-cells", "more cells than the header has; left out", hint)
        for name in () if self.no_patient else ("remark", "concept", "sitting"):
            for _, what in find_identifiers(self._cell(row, name)):
                message = f"the {name} contains what looks like {what}; left out"
                raise _RowError("patient-identifier", message, NOBODY_HINT)
        question = self._question(row)
        source = question.partition(":")[0]
        round_text = self._cell(row, "round").casefold()
        round_, sitting = round_of(self.study, source, ROUND_OF.get(round_text, ""))
        return Attempt(
            id=AttemptId(""),
            at=self._moment(row),
            question=question,
            outcome=self._outcome(row),
            area=self._area(row),
            concept=self._cell(row, "concept"),
            first=self._option(row, "first"),
            chosen=self._option(row, "chosen"),
            key=self._option(row, "key"),
            certainty=self._known(row, "certainty", CERTAINTIES.get),
            seconds=self._known(row, "seconds", lambda text: parse_seconds(text, self.reading)),
            reason=REASON_OF[self._known(row, "reason", parse_reason) or ""],
            round=round_,
            sitting=self._cell(row, "sitting") or sitting,
            remark=self._cell(row, "remark"),
            place=Place(self.grid.path, row.line),
        )

    def _question(self, row: Row) -> QuestionId:
        whole = self._cell(row, "question") or self._cell(row, "item")
        if not whole:
            raise _RowError("no-question", "the row has no question number; left out")
        if ":" in whole:
            text = whole
        else:
            source = self._cell(row, "source").casefold() or self.source.casefold()
            if not source:
                raise _RowError("no-source", f"'{whole}' has no source; left out", "name --source")
            item = re.sub(r"^(?:question|item|q|no\.?|#)\s*(?=\d)", "", whole, flags=re.I)
            number = PLAIN_NUMBER.fullmatch(item)
            item = number[1] if number else "" if _no_item(item) else item
            text = f"{'-'.join(source.split())}:{'-'.join(item.split())}"
        question = parse_new_question(text) if len(text) <= LONGEST_REFERENCE else None
        if question is None:
            hint = "write source:item, such as north:1041"
            raise _RowError(
                "bad-question", f"'{whole[:40]}' is not a question number; left out", hint
            )
        return question

    def _moment(self, row: Row) -> datetime:
        text = self._cell(row, "date")
        day, clock, offset = self.day, None, None
        if text:
            when = parse_when(text, self.reading)
            if when is None:
                hint = "write 2027-01-14 or 14/01/2027, with or without 19:42"
                raise _RowError("bad-date", f"'{text}' is not a date; left out", hint)
            day, clock, offset = when
        time_text = self._cell(row, "time")
        if time_text and clock is None:
            found = parse_clock(time_text)
            if found is None:
                self._report(
                    row, "bad-time", f"'{time_text}' is not a time of day; logged without it"
                )
            else:
                clock, offset = found
        at = moment(day, clock or NOON, offset if clock else None, ZoneInfo(self.study.timezone))
        if at is None or at.year < EARLIEST_YEAR:
            raise _RowError("bad-date", f"'{text}' is not a date; left out")
        if at.date() > self.today:
            hint = "check the order of day and month: day_first in study.yaml"
            raise _RowError("future-date", f"{at.date()} is in the future; left out", hint)
        return at.replace(microsecond=0)

    def _outcome(self, row: Row) -> Outcome:
        """What the row is marked as, or what its option and the key make it; they must agree."""
        marks = {self._mark(row, at) for at in self._marks if self._text(row, at)}
        chosen, key = self._cell(row, "chosen"), self._cell(row, "key")
        if len(marks) > 1:
            names = listed([f"'{self.grid.header[at]}'" for at in self._marks])
            raise _RowError("two-outcomes", f"{names} do not agree; left out", ONE_OUTCOME)
        if not key:
            if not marks:
                raise _RowError("no-outcome", "the row has no outcome; left out")
            return marks.pop()
        found = compare_options(chosen, key, lettered=self._lettered)
        if marks:
            mark = marks.pop()
            if chosen and "blank" not in (mark, found) and found not in (None, mark):
                message = (
                    f"marked {mark}, but '{chosen}' was chosen and the key is '{key}'; left out"
                )
                raise _RowError("two-outcomes", message, ONE_OUTCOME)
            return mark
        if found is None:
            hint = "write both as letters, such as C and B"
            message = f"'{chosen}' and '{key}' are written differently; left out"
            raise _RowError("bad-option", message, hint)
        return found

    @cached_property
    def _marks(self) -> tuple[int, ...]:
        """The columns that say whether an answer was right: one, or one and its opposite."""
        own = (self.columns["outcome"],) if "outcome" in self.columns else ()
        return (*own, *opposite_columns(self.columns, self.grid.header))

    @cached_property
    def _doubtful(self) -> frozenset[str]:
        """Signs that may be either in this table: a cross where there is nothing else, and a dash
        beside a plus.
        """
        cells = {tidy(text).casefold() for text in self._column("outcome")} - {""}
        crosses = {"x"} if cells == {"x"} and len(self._marks) == 1 else set()
        return frozenset(crosses | ({"-"} if "+" in cells else set()))

    @cached_property
    def _lettered(self) -> bool:
        """Whether all options begin with their letter."""
        cells = [text for field in ("chosen", "key") for text in self._column(field)]
        return all(split_option(text)[0] for text in cells if text)

    def _mark(self, row: Row, at: int) -> Outcome:
        text, negative = self._text(row, at), is_negative(self.grid.header[at])
        found = parse_mark(text, negative=negative, paired=len(self._marks) > 1)
        # An error of a spreadsheet, such as #N/A, says nothing.
        if (
            found is None
            or text.startswith("#")
            or (not negative and tidy(text).casefold() in self._doubtful)
        ):
            hint = "use right, wrong or blank (or correct, incorrect, yes, no, 1, 0)"
            raise _RowError("bad-outcome", f"'{text}' is not an outcome; left out", hint)
        return found

    def _option(self, row: Row, field: str) -> str:
        text = self._cell(row, field)
        letters = self.exam.letters
        letter = split_option(text)[0] if self._lettered else text.upper() * (len(text) == 1)
        if letter.isalpha() and letter not in letters:
            hint = f"the exam's options are {letters[0]} to {letters[-1]}"
            raise _RowError("bad-option", f"'{text}' is not an option; left out", hint)
        return letter or text[:60].strip()

    def _area(self, row: Row) -> AreaId:
        text = self._cell(row, "area")
        if not text:
            return AreaId("")
        if text not in self._areas:
            try:
                self._areas[text] = self.exam.area(text).id
            except NotFoundError as error:
                self._areas[text] = None
                message = f"area '{text}' is not in the blueprint; such rows are logged without it"
                self._report(row, "unknown-area", message, error.hint)
        return self._areas[text] or AreaId("")

    def _known(self, row: Row, field: str, read: Callable[[str], T | None]) -> T | None:
        text = self._cell(row, field)
        found = read(text.casefold()) if text else None
        if text and found is None:
            message = f"{field} '{text}' is not understood; the answer is logged without it"
            self._report(row, f"bad-{field}", message)
        return found


def _no_item(text: str) -> bool:
    """Whether a cell has what looks like an item but is none: where it falls, `9-3` may be one."""
    match = NO_ITEM.fullmatch(text)
    return match is not None and (not match[1] or int(match[1]) < int(match[2]))


def _in_order(drafts: list[Attempt]) -> list[Attempt]:
    """Seconds apart, in the order of the table, ending at noon of each day."""
    counts = Counter(draft.day for draft in drafts)
    placed: list[Attempt] = []
    for draft in drafts:
        counts[draft.day] -= 1
        placed.append(replace(draft, at=draft.at - timedelta(seconds=counts[draft.day])))
    return placed
