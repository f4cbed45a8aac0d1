"""Marks at risk: how many of the exam's items a gap is expected to cost."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kb.core.ids import AreaId
from kb.stats.history import history_of, noon_number
from kb.stats.proportions import beta_interval
from kb.stats.recall_model import Again, fresh_chances
from kb.stats.recognition import evidence_weights, learned_shift, lifts, paper_rows
from kb.stats.standing import AHEAD, Standing, Tracker

if TYPE_CHECKING:
    from datetime import date

    from kb.core.ids import QuestionId
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

    Marks at risk of a set of questions = for each, items of its area in the exam / distinct
    questions met in that area x chance of missing an item on the same fact in new words. The
    questions met are taken as a sample of what the exam may ask in that area.

    Source: own, because it carries a sample's share of misses over to the blueprint.
    """

    def __init__(self, base: Base, today: date) -> None:
        self.base, self.today = base, today
        self.history = history_of(base.attempts)
        lift = lifts(self.history)
        self.shift = learned_shift(self.history, paper_rows(base.attempts), lift)
        weights = evidence_weights(self.history, self.shift, lift)
        self.tracker = Tracker(self.history, weights)
        self._ahead = Tracker(self.history, weights, AHEAD)
        self.again = Again(self.history, self.tracker)
        self._area_of: dict[str, str] = {}
        for note in base.notes:
            for question in note.questions:
                if note.areas:
                    self._area_of.setdefault(question, note.areas[0])
        for attempt in base.attempts:
            if attempt.area:
                self._area_of[attempt.question] = attempt.area
        self._met = {attempt.question for attempt in base.attempts}
        self._met_areas = {self._area_of.get(question, "") for question in self._met}
        self._miss = self._chances()
        self._elsewhere = 1.0 - self.standing("").mean
        per_question = self._items_per_question()
        self._marks = {
            question: per_question.get(self._area_of.get(question, ""), 0.0) * miss
            for question, miss in self._miss.items()
        }

    def _chances(self) -> dict[str, float]:
        questions = sorted(self._met.union(self._area_of))
        areas = [self._area_of.get(question, "") for question in questions]
        day = noon_number(self.today)
        seen = self.again.of_questions(questions, areas, day)
        fresh = fresh_chances(self.again, questions, seen, day, self.shift)
        return dict(zip(questions, (1.0 - fresh).tolist(), strict=True))

    def _items_per_question(self) -> dict[str, float]:
        known_count = Counter(self._area_of.values())
        items = {area.id: area.item_count for area in self.base.exam.areas}
        return {area: items.get(AreaId(area), 0) / count for area, count in known_count.items()}

    def area(self, question: QuestionId) -> AreaId:
        """The area of a question, empty when nothing tells it.

        Source: own, because it only looks it up.
        """
        return AreaId(self._area_of.get(question, ""))

    def miss_fraction(self, question: QuestionId) -> float:
        """The chance of missing an item on the same fact, in words not met before.

        Source: own, because it only looks it up.
        """
        return self._miss.get(question, self._elsewhere)

    def marks(self, question: QuestionId) -> float:
        """Marks at risk on what one question asks; 0 outside the blueprint.

        Source: own, see the class.
        """
        return self._marks.get(question, 0.0)

    def standing(self, area: str) -> Standing:
        """Where the learner stands in an area, met or not: the chance in a paper still to come.

        The forecast is made of the same; `tracker` is for the very next answer.

        Source: own, see `standing`.
        """
        return self._ahead.standing(area)

    def unmet_areas(self) -> tuple[UnmetArea, ...]:
        """Areas of the blueprint with items but no question met, most marks first.

        Source: own, because what was never tried is judged by the learner's chance overall.
        """
        found = [
            UnmetArea(area=area.id, marks=area.item_count * (1 - self.standing(area.id).mean))
            for area in self.base.exam.areas
            if area.item_count and area.id not in self._met_areas
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
