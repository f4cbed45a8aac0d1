"""Which notes to read again on which of the coming days, and the last look before the exam.

A note comes back 3, 10 and then every 30 days after it was written or one of its questions was
missed, so that the gap lengthens while its questions hold; never on the day after a night. Each
day takes the due notes worth most marks that fit its minutes, solved exactly. In the last days
every note may come back once: failing ones first, then those worth most.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import compress
from typing import TYPE_CHECKING

import numpy as np

from kb.core.answers import Answers
from kb.core.ids import AreaId, AttemptId
from kb.core.records import record
from kb.planning.knapsack import by_worth, choose
from kb.planning.missed import RETURN_DAYS
from kb.planning.pace import reading_seconds

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray

    from kb.core.ids import NoteId
    from kb.core.model import Base

STEP_SECONDS = 5
LEAST_MARKS = 1e-4
"""A note without marks at risk is still worth a look when nothing else is due."""
GAPS = tuple(timedelta(days=days) for days in RETURN_DAYS)
LATE = 0.01
"""What chance puts late is worth this much of its marks: it comes when minutes are left."""


@record(frozen=True, kw_only=True)
class Candidate:
    """A note that may be read: what it costs, what it is worth, and from when it is due.

    `early` is False where chance has put it behind the others after `miss`, the last of its
    questions' misses. `look_count` looks were taken since it was written or since that miss.
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
    miss: AttemptId | None = None
    look_count: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class DayList:
    """The notes for one day, grouped by area."""

    day: date
    minutes: float
    notes: tuple[Candidate, ...]

    @property
    def seconds(self) -> float:
        """What reading them takes."""
        return sum(note.seconds for note in self.notes)


def due_on(last: date, look_count: int) -> date:
    """When a note is due again: 3, 10 or 30 days later.

    Args:
        last: The day it was last read or written, or one of its questions was missed.
        look_count: How often it was read since it was written, or since the miss.

    Source: cepeda2006 for gaps that grow with the time to be bridged; the days are common practice.
    """
    return last + GAPS[min(look_count, len(GAPS) - 1)]


def candidates(
    base: Base, marks: Mapping[NoteId, float], failing: Iterable[NoteId]
) -> tuple[Candidate, ...]:
    """Every note as a candidate for reading, in order of id.

    Args:
        base: The base as it is.
        marks: Marks at risk by note; a note that is missing counts as 0.
        failing: Notes that fail.
    """
    fails = frozenset(failing)
    seconds = reading_seconds(base)
    looks: dict[NoteId, list[date]] = {}
    for reading in base.readings:
        looks.setdefault(reading.note, []).append(reading.at.date())
    chosen = {(one.note, one.miss): one.early for one in base.reading_choices}
    found = []
    for note, (latest, missed_on) in zip(base.notes, _last_misses(base), strict=True):
        fresh = max(note.written_on or date.min, missed_on)
        looked, look_count, last = None, 0, fresh
        if own := looks.get(note.id):
            looked, look_count = max(own), len({day for day in own if day > fresh})
            last = max(fresh, looked)
        found.append(
            Candidate(
                note=note.id,
                title=note.title,
                area=note.areas[0] if note.areas else AreaId(""),
                seconds=seconds(note),
                marks=marks.get(note.id, 0.0),
                failing=note.id in fails,
                due=date.min if last == date.min else due_on(last, look_count),
                looked=looked,
                look_count=look_count,
                early=latest is None or chosen.get((note.id, latest), True),
                miss=latest,
            )
        )
    return tuple(sorted(found, key=lambda row: row.note))


def _last_misses(base: Base) -> list[tuple[AttemptId | None, date]]:
    """For each note the miss of one of its questions that was on the latest day, and that day; the
    first of its questions counts where several were missed then.
    """
    answers = Answers.of(base.attempts)
    codes, names = answers.column("question")
    last, wrong = np.full(len(names), -1), np.flatnonzero(~answers.rights)
    last[codes[wrong]] = wrong  # the last of equal codes remains
    missed = last >= 0
    misses = dict(zip(compress(names, missed.tolist()), last[missed].tolist(), strict=True))
    places = np.array([misses.get(q, -1) for note in base.notes for q in note.questions], int)
    owners = np.repeat(np.arange(len(base.notes)), [len(note.questions) for note in base.notes])
    places, owners = places[places >= 0], owners[places >= 0]
    order = np.lexsort((-answers.days[places], owners))
    order = order[np.diff(owners[order], prepend=-1) > 0]  # the first link of each note
    latest = answers.take(places[order])
    found: list[tuple[AttemptId | None, date]] = [(None, date.min)] * len(base.notes)
    told = zip(owners[order].tolist(), latest.ids, latest.days.tolist(), strict=True)
    for row, miss, day in told:
        found[row] = (AttemptId(miss), date.fromordinal(day))
    return found


class ReadingList:
    """The notes of one day after another; what a day takes comes back after its next gap.

    Args:
        notes: Candidates.
        last_look_from: From this day on every note may come once more, failing ones first.
    """

    def __init__(self, notes: Iterable[Candidate], last_look_from: date) -> None:
        self._notes = list(notes)
        self._last_from = last_look_from
        self._costs = np.array(
            [max(1, math.ceil(note.seconds / STEP_SECONDS)) for note in self._notes], dtype=int
        )
        self._values = np.array(
            [max(n.marks, LEAST_MARKS) * (1 if n.early else LATE) for n in self._notes]
        )
        self._order = by_worth(self._costs, self._values)
        self._failing = np.array([note.failing for note in self._notes], dtype=bool)
        self._due = np.array([note.due.toordinal() for note in self._notes], dtype=int)
        self._looked = np.array(
            [note.looked.toordinal() if note.looked else 0 for note in self._notes], dtype=int
        )
        self._look_counts = np.array([note.look_count for note in self._notes], dtype=int)

    def due(self, day: date) -> list[Candidate]:
        """Notes that may be read on a day: due, or in the last days not yet seen in them.

        None is due in the days just before the last look, which would bring it back at once.
        """
        return [self._notes[place] for place in self._due_on(day)]

    def _due_on(self, day: date) -> NDArray[np.intp]:
        if day >= self._last_from:
            return np.flatnonzero(self._looked < self._last_from.toordinal())
        if (self._last_from - day).days < RETURN_DAYS[0]:
            return np.array([], dtype=int)
        number = day.toordinal()
        return np.flatnonzero((self._due <= number) & (self._looked != number))

    def take(self, day: date, minutes: float, *, after_night: bool = False) -> DayList:
        """The day's list, within its minutes for reading.

        Source: nemhauser1969 for the set of a day.
        """
        minutes = 0.0 if after_night else max(0.0, minutes)
        chosen = self._best(self._due_on(day), minutes, failing_first=day >= self._last_from)
        self._looked[chosen] = day.toordinal()
        self._look_counts[chosen] += 1
        gaps = np.take(RETURN_DAYS, self._look_counts[chosen], mode="clip")
        self._due[chosen] = day.toordinal() + gaps
        notes = [self._notes[place] for place in chosen]
        return DayList(day=day, minutes=minutes, notes=_grouped(notes))

    def _best(self, places: NDArray[np.intp], minutes: float, *, failing_first: bool) -> list[int]:
        """The set worth most within the minutes; with `failing_first`, theirs before all others."""
        limit = int(minutes * 60 / STEP_SECONDS)
        groups = [places]
        if failing_first:
            failing = self._failing[places]
            groups = [places[failing], places[~failing]]
        found: list[int] = []
        there = np.full(len(self._notes), -1)
        for group in groups:
            there[group] = np.arange(len(group))
            order = there[self._order]
            costs, values = self._costs[group], self._values[group]
            taken = group[list(choose(costs, values, limit, order[order >= 0]))]
            there[group] = -1
            found += taken.tolist()
            limit -= int(self._costs[taken].sum())
        return found


def _grouped(notes: Iterable[Candidate]) -> tuple[Candidate, ...]:
    """By area, the area worth most first, and within it the note worth most; what chance put late
    comes last in its area.
    """
    rows = list(notes)
    worth: dict[AreaId, float] = {}
    for note in rows:
        worth[note.area] = worth.get(note.area, 0.0) + note.marks
    return tuple(
        sorted(rows, key=lambda n: (-worth[n.area], n.area, not n.early, -n.marks, n.note))
    )
