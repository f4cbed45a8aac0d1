"""Marks at risk: how many of the exam's items a gap is expected to cost."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from kb.core.ids import AreaId, QuestionId
from kb.stats.history import history_of, noon_number
from kb.stats.logistic import expit, logit
from kb.stats.papers import ability_of
from kb.stats.proportions import beta_interval
from kb.stats.question_record import record_chance
from kb.stats.recall_model import Again
from kb.stats.standing import Standing, Tracker, outcome_weights

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from kb.core.model import Base
    from kb.core.settings import Area
    from kb.stats.proportions import Interval


@dataclass(frozen=True, slots=True, kw_only=True)
class UnmetArea:
    """An area of the blueprint in which no question was met."""

    area: AreaId
    marks: float


LIKELY_LEVEL = 0.8
"""The chance with which a standing lies in its likely range."""
LEAST_ANSWERS = 30
QUESTIONS_PER_ITEM = 10
"""Common practice, no source: nothing is said in marks before so many answers, and an exam can ask
so many questions for each of its items."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AreaStanding:
    """An area of the blueprint with where the learner stands in it.

    `likely` is the central range that holds the standing with a chance of `LIKELY_LEVEL`;
    `marks` are the items expected to be missed, `exam_fraction` the area's share of the exam.
    """

    area: Area
    standing: Standing
    likely: Interval
    marks: float
    exam_fraction: float


class Risk:
    """What is at risk on one day, worked out once for all notes, misses and areas of a base.

    Marks at risk on a question = items of its area in the exam / questions that the exam may ask
    there x chance of missing an item on the same fact, by the question's own record. What the exam
    may ask is at least what the banks declare for the area, and at least ten questions for each
    item; all questions of an area together never exceed the area's own marks at risk.

    `speaks` says whether there are enough answers to speak in marks; with fewer, all are 0.

    Source: own, because it carries a sample's share of misses over to the blueprint.
    """

    def __init__(self, base: Base, today: date) -> None:
        self.base, self.today = base, today
        self.history = history_of(base.attempts)
        self.speaks = len(base.attempts) >= LEAST_ANSWERS
        self.ability = ability_of(base, self.history)
        self.tracker = Tracker(self.history, outcome_weights(self.history))
        self.again = Again(self.history, self.tracker)
        self._area_of: dict[str, str] = {}
        for note in base.notes:
            for question in note.questions:
                if note.areas:
                    self._area_of.setdefault(question, note.areas[0])
        for attempt in base.attempts:
            if attempt.area:
                self._area_of[attempt.question] = attempt.area
        self._records: dict[str, list[int]] = {}
        self._areas: dict[str, list[int]] = {}
        for attempt in base.attempts:
            for found, name in ((self._records, attempt.question), (self._areas, attempt.area)):
                found.setdefault(name, [0, 0])[0 if attempt.right else 1] += 1
        self._links = Counter(q for note in base.notes for q in set(note.questions))
        self._standings: dict[str, Standing] = {}
        self._judge_questions()

    def _judge_questions(self) -> None:
        """The chance of missing each known question, the items one stands for, and its marks."""
        questions = sorted(self._records.keys() | self._area_of.keys())
        areas = [self.area(QuestionId(question)) for question in questions]
        recalled = self.again.of_questions(questions, areas, noon_number(self.today))
        records = np.array([self._record(question) for question in questions])
        both = expit((logit(recalled) + logit(records)) / 2)
        self._miss: dict[str, float] = dict(zip(questions, (1.0 - both).tolist(), strict=True))
        self._items = self._items_per_question(Counter(areas))
        self._marks = {
            question: self._items.get(area, 0.0) * (1.0 - record)
            for question, area, record in zip(questions, areas, records.tolist(), strict=True)
        }
        sums: Counter[str] = Counter()
        for question, area in zip(questions, areas, strict=True):
            sums[area] += self._marks[question]
        room = {row.area.id: row.marks for row in self.area_standings()}
        for question, area in zip(questions, areas, strict=True):
            if sums[area] > room.get(area, 0.0):
                self._marks[question] *= room.get(area, 0.0) / sums[area]

    def _record(self, question: str) -> float:
        hits, misses = self._records.get(question, (0, 0))
        return record_chance(hits, misses, self.standing(self.area(QuestionId(question))).mean)

    def _items_per_question(self, known: Mapping[str, int]) -> dict[str, float]:
        exam = self.base.exam
        declared: dict[str, float] = dict.fromkeys((str(area.id) for area in exam.areas), 0.0)
        for source in self.base.study.sources:
            if source.kind not in ("bank", "course"):
                continue
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
        """The area of a question, empty when nothing tells it.

        Source: own, because it only looks it up.
        """
        return AreaId(self._area_of.get(question, ""))

    def miss_fraction(self, question: QuestionId) -> float:
        """The chance of missing the question if it were asked today: the mean, on the log odds,
        of what the recall model and the question's own record say.
        """
        return self._miss.get(question, 1.0 - self.standing("").mean)

    def marks(self, question: QuestionId) -> float:
        """Marks at risk on what one question asks; 0 outside the blueprint, see the class."""
        return self._marks.get(question, 0.0) if self.speaks else 0.0

    def share(self, question: QuestionId) -> float:
        """1 over the number of notes that link the question, so that its marks count once."""
        return 1.0 / max(1, self._links[question])

    def urgency(self, question: QuestionId) -> float:
        """The order of work: exam items that the question stands for, times `miss_fraction`."""
        items: float = self._items.get(self.area(question), 0.0)
        return items * self.miss_fraction(question)

    def standing(self, area: str) -> Standing:
        """The chance of a right answer to a new question of an area, met or not.

        Source: own, because one beta distribution is matched to mean and variance.
        """
        if area not in self._standings:
            right, wrong = self._areas.get(area, (0, 0))
            mean, variance = self.ability.chance(area)
            size = max(1e-3, mean * (1 - mean) / max(variance, 1e-12) - 1)
            self._standings[area] = Standing(
                area=area,
                mean=mean,
                a=mean * size,
                b=(1 - mean) * size,
                right_count=right,
                tried_count=right + wrong,
            )
        return self._standings[area]

    def unmet_areas(self) -> tuple[UnmetArea, ...]:
        """Areas of the blueprint with items but no question met, most marks first.

        Source: own, because what was never tried is judged by the learner's chance overall.
        """
        found = [
            UnmetArea(area=area.id, marks=area.item_count * (1 - self.standing(area.id).mean))
            for area in self.base.exam.areas
            if area.item_count and area.id not in self._areas
        ]
        return tuple(sorted(found, key=lambda row: (-row.marks, row.area)))

    def area_standings(self) -> tuple[AreaStanding, ...]:
        """Every area of the blueprint, most marks at risk first.

        Source: own, because it sets the standings beside the blueprint; see `standing` and
        `beta_interval`.
        """
        exam = self.base.exam
        found = []
        for area in exam.areas:
            stand = self.standing(area.id)
            found.append(
                AreaStanding(
                    area=area,
                    standing=stand,
                    likely=beta_interval(stand.a, stand.b, level=LIKELY_LEVEL),
                    marks=area.item_count * (1 - stand.mean),
                    exam_fraction=area.item_count / max(1, exam.item_count),
                )
            )
        return tuple(sorted(found, key=lambda row: (-row.marks, row.area.id)))


_LAST: dict[str, Risk] = {}


def risk_of(base: Base, today: date) -> Risk:
    """The same, kept for the last base and day asked for: one request asks several times."""
    last = _LAST.get("risk")
    if last is None or last.base is not base or last.today != today:
        last = _LAST["risk"] = Risk(base, today)
    return last
