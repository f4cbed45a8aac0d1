"""Missed questions that are still to be got right: when each comes back.

A question missed comes back after about three days, and once more after a gap that suits the time
left, until it has been right twice in a row. Any repeat counts, whether or not it was logged as of
the second round. A miss that was dismissed stays away until it is missed again.
"""

from datetime import date
from functools import cache

import numpy as np
from numpy.typing import NDArray

from kb.core.answers import Answers
from kb.core.ids import AreaId, NoteId, QuestionId
from kb.core.model import Base
from kb.core.records import record
from kb.stats.spacing import next_look_days

RETURN_DAYS = (3, 10, 30)
"""Days to the first, second and third return (common practice, no source)."""
RIGHT_TO_SETTLE = 2


@record(frozen=True, kw_only=True)
class Missed:
    """A question to try again: when it was missed last, and how often right since."""

    question: QuestionId
    area: AreaId
    missed_on: date
    right_count: int
    due: date
    notes: tuple[NoteId, ...] = ()


@cache
def return_days(right_count: int, days_left: int) -> int:
    """Days until a missed question comes back.

    Args:
        right_count: How often it was right since the miss.
        days_left: Days from its last answer to the exam.

    Returns:
        At least 1, and never more than half of the days left.

    Source: cepeda2008 for the gap after a right answer, between 3 and 30 days; no published
    figure was found for the first return.
    """
    wanted = RETURN_DAYS[0]
    if right_count:
        wanted = max(wanted, min(next_look_days(max(0, days_left)), RETURN_DAYS[-1]))
    return max(1, min(wanted, days_left // 2))


def missed_questions(base: Base, exam_day: date) -> tuple[Missed, ...]:
    """Every question missed and not yet right twice in a row since, by due day and reference."""
    notes: dict[QuestionId, list[NoteId]] = {}
    for note in base.notes:
        for question in note.questions:
            notes.setdefault(question, []).append(note.id)
    dues, places = waiting(base, exam_day)
    misses = Answers.of(base.attempts).take(places)
    found = [
        Missed(
            question=miss.question,
            area=miss.area,
            missed_on=miss.day,
            right_count=right_count,
            due=due,
            notes=tuple(notes.get(miss.question, ())),
        )
        for (due, right_count), miss in zip(dues, misses, strict=True)
    ]
    return tuple(sorted(found, key=lambda row: (row.due, row.question)))


def waiting(base: Base, exam_day: date) -> tuple[list[tuple[date, int]], NDArray[np.int_]]:
    """When each of these questions is due and how often it was right since the miss; the places of
    the misses among the answers.
    """
    dismissed = {row.question: row.at.date().toordinal() for row in base.dismissals}
    answers = Answers.of(base.attempts)
    codes, names = answers.column("question")
    places, wrong = np.arange(len(answers)), ~answers.rights
    miss, last = np.full((2, len(names)), -1)
    np.maximum.at(miss, codes[wrong], places[wrong])
    np.maximum.at(last, codes, places)
    again = (miss[codes] >= 0) & (places > miss[codes])
    rights = np.bincount(codes[again], minlength=len(names))
    left = np.array([dismissed.get(name, 0) for name in names], int)
    waits = (miss >= 0) & (rights < RIGHT_TO_SETTLE)
    waits[waits] = left[waits] < answers.days[miss[waits]]
    days = answers.days[last[waits]].tolist()
    counts = rights[waits].tolist()
    due = [
        (date.fromordinal(day + return_days(count, exam_day.toordinal() - day)), count)
        for day, count in zip(days, counts, strict=True)
    ]
    return due, miss[waits]
