"""A base as of a day, and its attempts with their areas: one base in, another out."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kb.core.errors import Problem
from kb.core.wording import counted

if TYPE_CHECKING:
    from datetime import date

    from kb.core.ids import AreaId, QuestionId
    from kb.core.model import Attempt, Base, Note


def with_areas(attempts: tuple[Attempt, ...], notes: tuple[Note, ...]) -> tuple[Attempt, ...]:
    """Give each attempt without an area that of another attempt at the same question, or of a note
    linked to it. The log's own area and the source's numbering have been applied already.
    """
    known: dict[QuestionId, AreaId] = {}
    for note in notes:
        for question in note.questions:
            if note.areas:
                known.setdefault(question, note.areas[0])
    for attempt in attempts:
        if attempt.area:
            known[attempt.question] = attempt.area
    return tuple(
        replace(attempt, area=known[attempt.question])
        if not attempt.area and attempt.question in known
        else attempt
        for attempt in attempts
    )


def with_repeats(attempts: tuple[Attempt, ...]) -> tuple[Attempt, ...]:
    """Move a question of a sitting that is answered again on a later day out of the sitting, into
    the second round: trying a paper's questions again never changes the paper's score.
    """
    first: dict[tuple[str, str], date] = {}
    found = []
    for attempt in attempts:
        if attempt.sitting:
            day = first.setdefault((attempt.sitting, attempt.question), attempt.day)
            if attempt.day > day:
                attempt = replace(attempt, round="second", sitting="")  # noqa: PLW2901
        found.append(attempt)
    return tuple(found)


def as_of(base: Base, day: date) -> Base:
    """The base as it stood at the end of `day`.

    A note dated later is left out; one that does not say when it was written stays, untested.
    """
    notes: list[Note] = []
    for note in base.notes:
        if note.written_on is None or note.written_on <= day:
            notes.append(note)
        elif not note.dated:
            notes.append(replace(note, written_on=None, written_at=None))
    return replace(
        base,
        notes=tuple(notes),
        attempts=tuple(attempt for attempt in base.attempts if attempt.day <= day),
        dismissals=tuple(one for one in base.dismissals if one.at.date() <= day),
        readings=tuple(reading for reading in base.readings if reading.at.date() <= day),
        reading_choices=tuple(one for one in base.reading_choices if one.at.date() <= day),
        scores=tuple(score for score in base.scores if score.at.date() <= day),
        draws=tuple(drawn for drawn in base.draws if drawn.at.date() <= day),
    )


def note_later_dates(base: Base, whole: Base, today: date) -> Base:
    """The base with a finding added where notes dated after today are left out: a wrong year, most
    likely.

    Args:
        base: As of today.
        whole: With all its notes.
        today: The day.
    """
    dated = (note for note in whole.notes if note.dated and note.written_on)
    later = [note for note in dated if note.written_on and note.written_on > today]
    if not later:
        return base
    first = later[0]
    others = f", and {counted(len(later) - 1, 'other note')}" if len(later) > 1 else ""
    finding = Problem(
        place=first.place,
        code="written-in-future",
        message=f"dated in the future ({first.written_on}){others}: ignored until that day",
        hint="correct 'written:', or look at a later day with --as-of",
        severity="caution",
    )
    return replace(base, problems=(*base.problems, finding))
