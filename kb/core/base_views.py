"""A base as of a day, and its attempts with their areas: one base in, another out."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import numpy as np

from kb.core.answers import Answers
from kb.core.errors import Problem
from kb.core.ids import NO_AREA
from kb.core.model import Attempt, Base, Note
from kb.core.wording import counted

LOGGED = ("dismissals", "readings", "reading_choices", "scores", "draws")
"""What a base holds of its logs besides the attempts."""


def with_areas(attempts: Sequence[Attempt], notes: tuple[Note, ...]) -> Sequence[Attempt]:
    """Give each attempt without an area that of another attempt at the same question, or of a note
    linked to it. The log's own area and the source's numbering have been applied already.
    """
    if not Answers.of(attempts).equals("area", NO_AREA).any():
        return attempts
    known = {q: note.areas[0] for note in reversed(notes) if note.areas for q in note.questions}
    known |= {attempt.question: attempt.area for attempt in attempts if attempt.area}
    return Answers(
        attempt if attempt.area else replace(attempt, area=known.get(attempt.question, NO_AREA))
        for attempt in attempts
    )


def with_repeats(attempts: Sequence[Attempt]) -> Sequence[Attempt]:
    """Move a question of a sitting that is answered again on a later day out of the sitting, into
    the second round: trying a paper's questions again never changes the paper's score.
    """
    if Answers.of(attempts).equals("sitting", "").all():
        return attempts
    first: dict[tuple[str, str], date] = {}

    def moved(attempt: Attempt) -> Attempt:
        day = first.setdefault((attempt.sitting, attempt.question), attempt.day)
        return replace(attempt, round="second", sitting="") if attempt.day > day else attempt

    return Answers(moved(attempt) if attempt.sitting else attempt for attempt in attempts)


def split_after(attempts: Sequence[Attempt], day: date) -> tuple[Answers, Answers]:
    """Attempts up to the end of `day`, by the doctor's own clock, and those after it."""
    every = Answers.of(attempts)
    late = every.days > day.toordinal()
    return every.only(~late), every.only(late)


def as_of(base: Base, day: date) -> Base:
    """The base as it stood at the end of `day`.

    A note dated later is left out; one that does not say when it was written stays, untested.
    """
    notes = tuple(
        note if early else replace(note, written_on=None, written_at=None)
        for note in base.notes
        if (early := note.written_on is None or note.written_on <= day) or not note.dated
    )
    others: dict[str, Any] = {
        kind: tuple(row for row in getattr(base, kind) if row.at.date() <= day) for kind in LOGGED
    }
    return replace(base, notes=tuple(notes), attempts=split_after(base.attempts, day)[0], **others)


def unchanged_days(base: Base, day: date) -> tuple[date, date]:
    """The first and last day of that year on which notes and answers are those of `day`."""
    days = {note.written_on for note in base.notes if note.written_on}
    days |= set(map(date.fromordinal, np.unique(Answers.of(base.attempts).days).tolist()))
    first, last = date(day.year, 1, 1), date(day.year, 12, 31)
    later = [other - timedelta(days=1) for other in days if other > day]
    return max([first, *(other for other in days if other <= day)]), min([last, *later])


def note_later_dates(base: Base, whole: Base, today: date) -> Base:
    """The base as of today, with a finding added where notes of the `whole` one are left out
    because they are dated after today: a wrong year, most likely.
    """
    later = [n for n in whole.notes if n.dated and n.written_on and n.written_on > today]
    if not later:
        return base
    others = f", and {counted(len(later) - 1, 'other note')}" if len(later) > 1 else ""
    message = f"dated in the future ({later[0].written_on}){others}: ignored until that day"
    hint = "correct 'written:', or look at a later day with --as-of"
    finding = Problem(later[0].place, "written-in-future", message, hint, "caution")
    return replace(base, problems=(*base.problems, finding))
