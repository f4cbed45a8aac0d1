"""What a sheet holds: headings, answers, lines not understood, and the names it may use."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import date
from typing import Any

from kb.core.errors import Problem
from kb.core.ids import AreaId, Outcome, QuestionId

NO_AREA = AreaId("")


@dataclass(frozen=True, slots=True, kw_only=True)
class Heading:
    """What a heading says. `day` is None until one names a date; `number` counts headings."""

    day: date | None = None
    source: str = ""
    area: AreaId = NO_AREA
    round: str = ""
    number: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Coded:
    """What the codes behind an item say."""

    outcome: Outcome = "right"
    first: str = ""
    chosen: str = ""
    key: str = ""
    certainty: int | None = None
    seconds: float | None = None
    reason: str = ""

    @property
    def values(self) -> dict[str, Any]:
        """These fields by name, without those of a subclass."""
        return {field.name: getattr(self, field.name) for field in fields(Coded)}


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine(Coded):
    """One answer of a sheet, with its heading and its line, from 1.

    `span` is the number of questions on its line or in its range: the narrower one counts.
    """

    question: QuestionId
    heading: Heading
    line: int
    remark: str = ""
    span: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftLine:
    """A line not understood, as it was typed, with its heading."""

    line: int
    text: str
    heading: Heading


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """A sheet as it was read. `left` are the lines not understood, in order."""

    answers: tuple[SheetLine, ...] = ()
    left: tuple[LeftLine, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def undated_count(self) -> int:
        """Answers for which no heading names a date."""
        return sum(answer.heading.day is None for answer in self.answers)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """The names a sheet may use: areas by every spelling, sources by id; and the order of dates.

    `day` is the day of the sheet: a date without a year is the latest such day up to it. `today`,
    if given, is the last day that a heading may name. `no_patient` is the person's word that no
    remark identifies a patient.
    """

    areas: Mapping[str, AreaId]
    sources: tuple[str, ...]
    day: date
    day_first: bool = True
    today: date | None = None
    no_patient: bool = False


class NotUnderstoodError(Exception):
    """A line of a sheet cannot be understood."""

    def __init__(self, message: str, hint: str, code: str = "sheet-line") -> None:
        super().__init__(message)
        self.hint, self.code = hint, code
