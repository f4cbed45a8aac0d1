"""What a sheet says: its headings, its answers, the lines that were left, the names it may use."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from kb.core.ids import AreaId

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from kb.core.errors import Problem
    from kb.core.ids import Outcome, QuestionId

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
class SheetLine:
    """One answer of a sheet, with the heading that holds for it and its line, from 1.

    `span` is how many questions its line or range is about: the narrower one counts.
    """

    question: QuestionId
    outcome: Outcome
    heading: Heading
    line: int
    first: str = ""
    chosen: str = ""
    key: str = ""
    certainty: int | None = None
    seconds: float | None = None
    reason: str = ""
    remark: str = ""
    span: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class LeftLine:
    """A line not understood, as it stood, with the heading that held for it."""

    line: int
    text: str
    heading: Heading


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """What a sheet holds. `left` are the lines not understood, in order."""

    answers: tuple[SheetLine, ...] = ()
    left: tuple[LeftLine, ...] = ()
    problems: tuple[Problem, ...] = ()

    @property
    def undated_count(self) -> int:
        """Answers for which no heading names a date."""
        return sum(answer.heading.day is None for answer in self.answers)


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """What names on a sheet may mean: areas by every spelling, sources by id, and the date order.

    `day` is the day of the sheet: short dates are completed to the latest such day up to it.
    `today`, if given, is the last day that a heading may name. `no_patient` is the person's word
    that no remark identifies a patient.
    """

    areas: Mapping[str, AreaId]
    sources: tuple[str, ...]
    day: date
    day_first: bool = True
    today: date | None = None
    no_patient: bool = False


class NotUnderstoodError(Exception):
    """A line of a sheet says nothing that can be taken."""

    def __init__(self, message: str, hint: str, code: str = "sheet-line") -> None:
        super().__init__(message)
        self.hint, self.code = hint, code
