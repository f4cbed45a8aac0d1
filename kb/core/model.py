"""The frozen records that everything else passes around.

A `Base` is one load of a folder: settings, notes, attempts and the problems found. Nothing here
reads a file, the clock or the environment, and nothing here computes a statistic.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from kb.core.errors import Place, Problem
from kb.core.ids import (
    NO_AREA,
    NOWHERE,
    AreaId,
    AttemptId,
    NoteId,
    Outcome,
    QuestionId,
    Reason,
    RenameKind,
    Round,
)
from kb.core.records import record
from kb.core.settings import Exam, Study

if TYPE_CHECKING:
    from collections.abc import Sequence

MINUTE = timedelta(minutes=1)


@record(frozen=True, kw_only=True)
class Heading:
    """A heading inside a note."""

    text: str
    level: int
    line: int


@record(frozen=True, kw_only=True)
class Link:
    """A CommonMark link to another file, as written; `path` is relative to the base.

    `path` is empty when the target lies outside the base.
    """

    target: str
    text: str
    path: str
    line: int


@record(frozen=True, kw_only=True)
class Note:
    """The doctor's own short answer to one or more misses.

    `written_on` is the day it was last written, and `written_at` the moment where that is known;
    `dated` is true when the note itself gives the day, not only its file. The text itself stays in
    the file.
    """

    id: NoteId
    path: str
    title: str
    areas: tuple[AreaId, ...] = ()
    concepts: tuple[str, ...] = ()
    questions: tuple[QuestionId, ...] = ()
    basis: str = ""
    checked: date | None = None
    written_on: date | None = None
    written_at: datetime | None = None
    dated: bool = False
    headings: tuple[Heading, ...] = ()
    links: tuple[Link, ...] = ()
    word_count: int = 0
    table_row_count: int = 0

    @property
    def place(self) -> Place:
        """Its file's first line."""
        return Place(self.path, 1)

    def answered_since(self, attempt: Attempt) -> bool:
        """Whether `attempt` came after the note was last written.

        An attempt of the same day counts as earlier where the note has no clock time, and one of
        the same minute where it has: the note was most likely written because of it.
        """
        if self.written_at is not None:
            return attempt.at - self.written_at >= MINUTE
        return self.written_on is not None and attempt.day > self.written_on


@record(frozen=True)
class Attempt:
    """One answer to one question. `at` is aware and carries the doctor's own offset.

    `first` is the option marked before an answer was changed; `batch` the import it came from.
    """

    id: AttemptId
    at: datetime
    question: QuestionId
    outcome: Outcome
    area: AreaId = NO_AREA
    concept: str = ""
    first: str = ""
    chosen: str = ""
    key: str = ""
    certainty: int | None = None
    seconds: float | None = None
    reason: Reason = ""
    round: Round = ""
    sitting: str = ""
    batch: str = ""
    remark: str = ""
    place: Place = field(default=NOWHERE, compare=False)
    day: date = field(init=False, repr=False, compare=False)
    """The day on the doctor's own clock; worked out once, since every report asks for it often."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "day", self.at.date())

    @property
    def right(self) -> bool:
        """Whether the answer scored."""
        return self.outcome == "right"

    @property
    def source(self) -> str:
        """The source part of the question reference."""
        return self.question.partition(":")[0]


@dataclass(frozen=True, slots=True, kw_only=True)
class Dismissal:
    """A miss with nothing to learn from, dismissed until it is missed again."""

    id: str = ""
    at: datetime
    question: QuestionId
    reason: str
    remark: str = ""
    place: Place = field(default=NOWHERE, compare=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """One reading of a note, with its seconds if it was timed."""

    id: str
    at: datetime
    note: NoteId
    seconds: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingChoice:
    """What chance chose for a note after a miss, the id of a line in the log: early in the reading
    list, or late.
    """

    at: datetime
    note: NoteId
    miss: AttemptId
    early: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """One question of a draw. `draw` names the draw, `position` counts from 1 inside it."""

    at: datetime
    draw: str
    round: Round
    seed: str
    position: int
    question: QuestionId


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """The score of one area in a sitting whose single answers are not known.

    `area` is empty for a score of the whole paper.
    """

    id: str
    at: datetime
    sitting: str
    area: AreaId
    right_count: int
    item_count: int
    official: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Renamed:
    """One name that changed; `old` and `new` are whole references where `kind` is item."""

    id: str
    at: datetime
    kind: RenameKind
    old: str
    new: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """Words of a log line that is no answer, or no longer counts: they are in the file still."""

    id: str
    text: str
    place: Place


@dataclass(frozen=True, slots=True, kw_only=True)
class Base:
    """One load of a base.

    `attempts` are in order of time, then id; voided ones are left out, and each has its area where
    the log, the source's numbering or a linked note gives it. `notes` are in order of path. `files`
    are the paths of all files in the base that could be linked to. `glossary` has the base's own
    abbreviations, each with its meanings. `held_back` are the questions held back, as written down
    once. `renamed` are the names that changed since the log began, on `begun_on` if that is known.
    `other_remarks` are those of dismissals, of voids, and of answers taken back.
    """

    exam: Exam
    study: Study
    notes: tuple[Note, ...] = ()
    attempts: Sequence[Attempt] = ()
    dismissals: tuple[Dismissal, ...] = ()
    readings: tuple[Reading, ...] = ()
    reading_choices: tuple[ReadingChoice, ...] = ()
    draws: tuple[Drawn, ...] = ()
    held_back: tuple[QuestionId, ...] = ()
    scores: tuple[Score, ...] = ()
    renamed: tuple[Renamed, ...] = ()
    begun_on: date | None = None
    other_remarks: tuple[Remark, ...] = ()
    files: frozenset[str] = frozenset()
    glossary: tuple[tuple[str, tuple[str, ...]], ...] = ()
    problems: tuple[Problem, ...] = ()
