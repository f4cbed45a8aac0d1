"""Which notes to read on which of the coming days: the second look, and the last one.

A note is due again after the gap that suits the time left to the exam, sooner after a failure, and
never on the day after a night. Each day takes the set of due notes worth most marks that fits into
its reading minutes, solved exactly; days are settled in turn, because tomorrow's list is made anew
tomorrow. In the last days before the exam every note may come back once: those that still fail
first, then those worth most.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from kb.core.ids import AreaId
from kb.planning.knapsack import choose
from kb.stats.reading_effect import chance_says_early
from kb.stats.spacing import next_look_days

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from kb.core.ids import NoteId
    from kb.core.model import Base

STEP_SECONDS = 5
LEAST_MARKS = 1e-4
"""A note without marks at risk is still worth a look when nothing else is due."""
LATE = 0.01
"""What chance puts late is worth this much of its marks: it comes when minutes are left."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A note that may be read: what it costs, what it is worth, and from when it is due.

    `early` is False where chance has put it behind the others.
    """

    note: NoteId
    title: str
    area: AreaId
    seconds: float
    marks: float
    failing: bool
    due: date
    looked: date | None = None
    early: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingDay:
    """One day's budget of reading."""

    day: date
    minutes: int
    after_night: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class DayList:
    """The notes for one day, grouped by area; `last_look` on the days before the exam."""

    day: date
    minutes: int
    notes: tuple[Candidate, ...]
    last_look: bool = False

    @property
    def seconds(self) -> float:
        """What reading them takes."""
        return sum(note.seconds for note in self.notes)


def due_on(last: date, exam_day: date, *, failed_on: date | None = None) -> date:
    """When a note is due again after the look on `last`.

    Args:
        last: The day it was last read or written.
        exam_day: The day of the exam.
        failed_on: The day a linked question was missed, if that was after `last`.

    Returns:
        A day after `last`; after a failure the gap is halved, and it is never before the day
        after the failure.

    Source: cepeda2008, by `next_look_days`.
    """
    gap = next_look_days((exam_day - last).days, failed=failed_on is not None)
    due = last + timedelta(days=gap)
    return due if failed_on is None else max(due, failed_on + timedelta(days=1))


def candidates(
    base: Base, marks: Mapping[NoteId, float], failing: Iterable[NoteId]
) -> tuple[Candidate, ...]:
    """Every note as a candidate for reading, in order of id.

    Args:
        base: The base as it stands.
        marks: Marks at risk by note; a note that is missing counts as 0.
        failing: Notes that fail.

    Source: brysbaert2019 for words a minute; the rest own.
    """
    fails = frozenset(failing)
    study = base.study
    looked: dict[NoteId, date] = {}
    for reading in base.readings:
        looked[reading.note] = reading.at.date()
    missed = {}
    miss_ids = {}
    for attempt in base.attempts:
        if not attempt.right:
            missed[attempt.question] = attempt.day
            miss_ids[attempt.question] = attempt.id
    found = []
    for note in base.notes:
        days = [day for day in (note.written_on, looked.get(note.id)) if day is not None]
        last = max(days, default=None)
        own = [q for q in note.questions if q in missed]
        latest = miss_ids[max(own, key=lambda q: missed[q])] if own else None
        failed = max((missed[q] for q in note.questions if q in missed), default=None)
        if last is None:
            due = date.min
        else:
            since = failed if failed is not None and failed > last else None
            due = due_on(last, base.exam.date, failed_on=since)
        found.append(
            Candidate(
                note=note.id,
                title=note.title,
                area=note.areas[0] if note.areas else AreaId(""),
                seconds=study.opening_seconds + study.reading_seconds(note.word_count),
                marks=marks.get(note.id, 0.0),
                failing=note.id in fails,
                due=due,
                looked=looked.get(note.id),
                early=not (study.chance_order and latest) or chance_says_early(note.id, latest),
            )
        )
    return tuple(sorted(found, key=lambda row: row.note))


def reading_list(
    notes: Sequence[Candidate], days: Sequence[ReadingDay], last_look_from: date
) -> tuple[DayList, ...]:
    """Lists for the coming days, each within its minutes; no note stands in two lists.

    Args:
        notes: Candidates.
        days: Budgets in order of day.
        last_look_from: From this day on every note may come once more, failing ones first.

    Source: nemhauser1969 for each day's set; own for the order of days.
    """
    placed: set[NoteId] = set()
    placed_last: set[NoteId] = set()
    lists = []
    for day in days:
        last = day.day >= last_look_from
        used = placed_last if last else placed
        open_notes = [n for n in notes if n.note not in used and _may(n, day.day, last_look_from)]
        chosen = [] if day.after_night else _best(open_notes, day.minutes, failing_first=last)
        used.update(note.note for note in chosen)
        lists.append(
            DayList(day=day.day, minutes=day.minutes, notes=_grouped(chosen), last_look=last)
        )
    return tuple(lists)


def _may(note: Candidate, day: date, last_look_from: date) -> bool:
    """Whether a note may stand in a day's list: due, or in the last days not yet seen in them."""
    if day < last_look_from:
        return note.due <= day
    return note.looked is None or note.looked < last_look_from


def _best(notes: Sequence[Candidate], minutes: int, *, failing_first: bool) -> list[Candidate]:
    """The set worth most within the minutes; with `failing_first`, theirs before all others."""
    limit = minutes * 60 // STEP_SECONDS
    groups = [list(notes)]
    if failing_first:
        groups = [[n for n in notes if n.failing], [n for n in notes if not n.failing]]
    found: list[Candidate] = []
    for group in groups:
        costs = [max(1, math.ceil(note.seconds / STEP_SECONDS)) for note in group]
        values = [max(note.marks, LEAST_MARKS) * (1 if note.early else LATE) for note in group]
        taken = choose(costs, values, limit)
        found += [group[i] for i in taken]
        limit -= sum(costs[i] for i in taken)
    return found


def _grouped(notes: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """By area, the area worth most first, and within it the note worth most."""
    rows = list(notes)
    worth: dict[AreaId, float] = {}
    for note in rows:
        worth[note.area] = worth.get(note.area, 0.0) + note.marks
    return tuple(sorted(rows, key=lambda n: (-worth[n.area], n.area, -n.marks, n.note)))
