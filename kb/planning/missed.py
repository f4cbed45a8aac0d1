"""Missed questions that are still to be got right: when each comes back.

A question missed comes back after about three days, and once more after a gap that suits the time
left, until it has been right twice in a row. Any repeat counts, whether or not it was logged as of
the second round. A miss that was dismissed stays away until it is missed again.
"""

from collections.abc import Iterator
from datetime import date, timedelta
from functools import cache

from kb.core.ids import AreaId, NoteId, QuestionId
from kb.core.model import Attempt, Base
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
    found = [
        Missed(
            question=miss.question,
            area=miss.area,
            missed_on=miss.day,
            right_count=right_count,
            due=due,
            notes=tuple(notes.get(miss.question, ())),
        )
        for due, right_count, miss in waiting(base, exam_day)
    ]
    return tuple(sorted(found, key=lambda row: (row.due, row.question)))


def waiting(base: Base, exam_day: date) -> Iterator[tuple[date, int, Attempt]]:
    """When each of these questions is due, how often it was right since the miss, and the miss."""
    dismissed = {row.question: row.at.date() for row in base.dismissals}
    since_miss: dict[QuestionId, list[Attempt]] = {}
    for attempt in base.attempts:
        if attempt.outcome != "right":
            since_miss[attempt.question] = [attempt]
        elif own := since_miss.get(attempt.question):
            own.append(attempt)
    for question, own in since_miss.items():
        miss, last = own[0], own[-1]
        if len(own) <= RIGHT_TO_SETTLE and dismissed.get(question, date.min) < miss.day:
            gap = return_days(len(own) - 1, (exam_day - last.day).days)
            yield last.day + timedelta(days=gap), len(own) - 1, miss
