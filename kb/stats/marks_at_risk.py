"""Marks at risk: how many of the exam's items a gap is expected to cost."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from kb.core.answers import Answers, Codes
from kb.core.ids import AreaId, QuestionId
from kb.core.last_base import kept_for_last_base
from kb.stats.forecast import rights_left_out
from kb.stats.history import history_of, noon_number
from kb.stats.logistic import expit, logit
from kb.stats.papers import ability_of, paper_totals
from kb.stats.question_record import record_chances
from kb.stats.recall_model import Recall

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from datetime import date

    from numpy.typing import NDArray

    from kb.core.model import Base
    from kb.core.settings import Area
    from kb.stats.ability import Ability
    from kb.stats.proportions import Interval

Columns = dict[str, "NDArray[np.float64]"]

BLOCK = 4096
"""Questions judged together: their tables are large, and small ones stay at hand."""
LEAST_ANSWERS = 30
QUESTIONS_PER_ITEM = 10
"""Common practice, no source: nothing is said in marks before so many answers, and an exam can ask
so many questions for each of its items."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaStanding:
    """Where the learner stands in an area of the blueprint.

    `mean` is the chance of a right answer to a new question, `likely` its range (80%);
    `exam_fraction` is the area's share of the exam, the counts are of answers in the log.
    """

    area: Area
    mean: float
    likely: Interval
    right_count: int
    tried_count: int
    exam_fraction: float

    @property
    def marks(self) -> float:
        """Items of the area expected to be missed."""
        return self.area.item_count * (1 - self.mean)


class _Known(NamedTuple):
    """Every question met, and every other of a note with an area: its number, those met first as
    `Meetings` number them, and the code of its area, of its last answer with one or of a note.
    """

    numbers: dict[str, int]
    areas: Codes


class Risk:
    """What is at risk on one day, worked out once for all notes, misses and areas of a base.

    Marks at risk on a question = items of its area in the exam / questions that the exam may ask
    there x chance of missing an item on the same fact, by the question's own record. What the exam
    may ask is at least what the sources declare for the area, and at least ten questions for each
    item; all questions of an area together never exceed the area's own marks at risk.

    `speaks` is whether the answers allow speaking in marks: enough of them, and right ones not
    left out; otherwise all are 0.

    Source: own, because it carries a sample's share of misses over to the blueprint.
    """

    def __init__(self, base: Base, today: date) -> None:
        self.base, self.today = base, today
        self.history = history_of(base.attempts)
        self.speaks = len(base.attempts) >= LEAST_ANSWERS and not rights_left_out(base)
        answers = Answers.of(base.attempts)
        self._rights, self._tried = answers.counts("area", answers.rights), answers.counts("area")
        self._chances: dict[str, float] = {}
        self.kept: Callable[[Callable[[], Columns]], Columns] = lambda work: work()
        """Gives what is asked of it, or the same as it was kept."""

    @cached_property
    def ability(self) -> Ability:
        """What the answers say of the learner."""
        return ability_of(self.base, self.history)

    @cached_property
    def _known(self) -> _Known:
        seen, within = self.history.meetings, self.history.in_areas
        notes = (note for note in reversed(self.base.notes) if note.areas)
        noted: dict[str, str] = {q: note.areas[0] for note in notes for q in note.questions}
        fresh = [question for question in noted if question not in seen.index]
        index = seen.index | {q: number for number, q in enumerate(fresh, len(seen.index))}
        names = dict(within.index)
        codes, told = np.full(len(index), -1), within.codes != within.index.get("", -1)
        codes[seen.codes[told]] = within.codes[told]  # the last of equal numbers remains
        questions, others = [*index], np.flatnonzero(codes < 0)
        areas = [noted.get(questions[number], "") for number in others.tolist()]
        codes[others] = [names.setdefault(area, len(names)) for area in areas]
        return _Known(index, (codes, [*names]))

    @cached_property
    def _links(self) -> NDArray[np.int_]:
        """How many notes link each known question."""
        numbers = self._numbers([q for note in self.base.notes for q in set(note.questions)])
        return np.bincount(numbers[numbers >= 0], minlength=len(self._known.numbers) + 1)

    def _numbers(self, questions: Sequence[QuestionId]) -> NDArray[np.int_]:
        """The number of each question, -1 where it is not known."""
        index = self._known.numbers
        return np.fromiter((index.get(q, -1) for q in questions), int, len(questions))

    @cached_property
    def _of_questions(self) -> Columns:
        """Worked out on first use, since a report on areas needs none of it."""
        return self.kept(self._judge_questions)

    def _judge_questions(self) -> Columns:
        """By the number of each known question, then for any other: the chance of missing it, the
        items that one of its area stands for, and the marks at risk on it.
        """
        index, (codes, names) = self._known
        met = np.arange(len(index))
        met[len(self.history.meetings.index) :] = -1
        recalled = Recall(self.history).of_questions(met, (codes, names), noon_number(self.today))
        records = self._own_records(met, (codes, names))
        both = expit((logit(recalled) + logit(records)) / 2)
        counts = np.bincount(codes, minlength=len(names)).tolist()
        items = self._items_per_question(dict(zip(names, counts, strict=True)))
        each = np.array([items.get(name, 0.0) for name in names])[codes]
        marks = each * (1.0 - records) * self.speaks
        most: dict[str, float] = {row.area.id: row.marks for row in self.area_standings()}
        sums, room = np.bincount(codes, marks), np.array([most.get(name, 0.0) for name in names])
        marks *= np.divide(room, sums, out=np.ones(len(names)), where=sums > room)[codes]
        misses = np.append(1.0 - both, 1.0 - self.chance(""))
        each, marks = np.append(each, 0.0), np.append(marks, 0.0)
        return {"misses": misses, "items": each, "marks": marks}

    def _own_records(self, numbers: NDArray[np.int_], areas: Codes) -> NDArray[np.float64]:
        """The chance of a right answer to each question by its own record.

        Each record is judged by its source and by the level at the time, and the steady rise since
        is added: an early miss counts less against a learner who has improved.
        """
        seen, rights = self.history.meetings, self.history.rights.astype(int)
        later = seen.met > 0
        first = np.append(rights[~later], -1)  # the last entry is for questions not met
        hits = np.bincount(seen.codes[later], rights[later], len(first))
        met = np.maximum(1, np.bincount(seen.codes, minlength=len(first)))
        misses = met - 1 - hits
        ago = 1 - np.arange(len(rights)) / len(rights)
        sums = np.bincount(seen.codes, ago, len(first))
        gains = self.ability.rise * (sums / met)[numbers]
        easier = {one.source: one.mean for one in self.ability.sources}
        effects = np.array([easier.get(q.partition(":")[0], 0.0) for q in self._known.numbers])
        level = logit(np.array([self.chance(area) for area in areas[1]]))[areas[0]]
        usual = expit(level + effects - gains)
        blocks = [slice(at, at + BLOCK) for at in range(0, max(1, len(numbers)), BLOCK)]
        parts = [(numbers[block], usual[block]) for block in blocks]
        records = [record_chances(first[n], hits[n], misses[n], own) for n, own in parts]
        return expit(logit(np.concatenate(records)) + gains)

    def _items_per_question(self, known: Mapping[str, int]) -> dict[str, float]:
        exam = self.base.exam
        declared: dict[str, float] = dict.fromkeys((str(area.id) for area in exam.areas), 0.0)
        for source in self.base.study.sources:
            spread = source.item_count
            for own in source.ranges:
                if own.area in declared:
                    declared[own.area] += own.last - own.first + 1
                spread -= own.last - own.first + 1
            for area in exam.areas:
                declared[area.id] += max(0, spread) * area.item_count / max(1, exam.item_count)
        return {
            area.id: area.item_count
            / max(declared[area.id], known.get(area.id, 0), QUESTIONS_PER_ITEM * area.item_count)
            for area in exam.areas
            if area.item_count
        }

    def area(self, question: QuestionId) -> AreaId:
        """The area of a question, empty when it is not known."""
        index, (codes, names) = self._known
        return AreaId(names[codes[index[question]]] if question in index else "")

    def miss_fraction(self, question: QuestionId) -> float:
        """The chance of missing the question if it were asked today: the mean, on the log odds,
        of the recall model and the question's own record.
        """
        return float(self._of_questions["misses"][self._known.numbers.get(question, -1)])

    def marks(self, question: QuestionId) -> float:
        """Marks at risk on what one question asks; 0 outside the blueprint, see the class."""
        return float(self._of_questions["marks"][self._known.numbers.get(question, -1)])

    def urgency(self, question: QuestionId) -> float:
        """The order of work: exam items that the question stands for, times `miss_fraction`."""
        items = self._of_questions["items"][self._known.numbers.get(question, -1)]
        return float(items) * self.miss_fraction(question)

    def of_groups(self, groups: Sequence[Sequence[QuestionId]]) -> tuple[list[float], ...]:
        """For each group of questions, the sums of `marks` and of `urgency`, and that of
        `miss_fraction`; the first two are shared among all notes that link a question.
        """
        numbers = self._numbers([question for group in groups for question in group])
        owner = np.repeat(np.arange(len(groups)), [len(group) for group in groups])
        misses, items, marks = (
            self._of_questions[name][numbers] for name in ("misses", "items", "marks")
        )
        share = 1.0 / np.maximum(1, self._links[numbers])
        columns = (marks * share, items * misses * share, misses)
        return tuple(np.bincount(owner, column, len(groups)).tolist() for column in columns)

    def chance(self, area: str) -> float:
        """The chance of a right answer to a new question of an area, met or not."""
        if area not in self._chances:
            self._chances[area] = self.ability.chance(area)
        return self._chances[area]

    def area_standings(self) -> tuple[AreaStanding, ...]:
        """Every area of the blueprint, most marks at risk first."""
        found = [
            AreaStanding(
                area=area,
                mean=self.chance(area.id),
                likely=self.ability.likely(area.id),
                right_count=self._rights[area.id],
                tried_count=self._tried[area.id],
                exam_fraction=area.item_count / max(1, self.base.exam.item_count),
            )
            for area in self.base.exam.areas
        ]
        return tuple(sorted(found, key=lambda row: (-row.marks, row.area.id)))

    def untouched(self) -> tuple[AreaStanding, ...]:
        """Areas of the blueprint with items but neither an answer nor a score of their own, most
        marks first; they are judged by the learner's chance in the other areas.
        """
        scored = {total.area for own in paper_totals(self.base).values() for total in own}
        own = {area.id for area in self.base.exam.areas if area.item_count} - scored
        left = own - self._tried.keys()
        return tuple(row for row in self.area_standings() if row.area.id in left) if left else ()


@kept_for_last_base
def risk_of(base: Base, today: date) -> Risk:
    """The same, kept for the last base: one request asks several times."""
    return Risk(base, today)
