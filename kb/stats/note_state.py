"""Which notes work: each is judged by the answers to its questions since it was last written."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np

from kb.core.answers import Answers
from kb.core.ids import AreaId, NoteId, QuestionId, State
from kb.core.last_base import kept_for_last_base
from kb.core.model import MINUTE, Attempt, Base, Note
from kb.core.pairs import compared_in, parse_pair
from kb.core.records import record
from kb.core.wording import dated, often
from kb.stats.history import meetings
from kb.stats.marks_at_risk import Risk, risk_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from kb.stats.history import Meetings

Advice = Literal["rewrite", "split", "re-attempt", "wait", "leave"]

STATES: dict[State, str] = {
    "failing": (
        "since you last wrote the note you have missed one of its questions, or mixed up the two"
        " things it compares, and have not yet got that question right twice in a row"
    ),
    "untested": "you have not tried any of its questions since you last wrote it",
    "holding": "you have tried its questions since you last wrote it, and none is failing",
}
"""What each state means; command line, page and help use these words."""

# Common practice, no source: the rules below and their numbers are ours.
RIGHT_TO_CLEAR = 2
SPLIT_QUESTION_COUNT = 4
SPLIT_WORD_COUNT = 400
SPLIT_HEADING_COUNT = 2
SPLIT_ROW_COUNT = 4
DOUBT_FRACTION = 0.5
RECENT_COUNT = 4


@record(frozen=True, kw_only=True)
class Judged:
    """One note and the answers to its questions.

    `tried_count` and `wrong_count` count those since the note was last written, `recent_count` and
    `recent_wrong_count` the last few whenever given. `unsettled_day`, of a failing note, is that of
    the last miss not yet followed by two right answers. `marks` are at risk on all its questions,
    `miss_fraction` is the mean chance of missing one, `urgency` gives the order of work.
    """

    note: NoteId
    title: str
    area: AreaId
    state: State
    question_count: int
    tried_count: int
    wrong_count: int
    last_outcome: str
    last_day: date | None
    last_miss_day: date | None
    unsettled_day: date | None
    ever_tried_count: int
    ever_wrong_count: int
    recent_count: int
    recent_wrong_count: int
    miss_fraction: float
    marks: float
    urgency: float
    advice: Advice
    year: int

    @property
    def settled(self) -> bool:
        """Whether the last few answers to its questions were all right."""
        return self.recent_count == RECENT_COUNT and not self.recent_wrong_count

    @property
    def evidence(self) -> str:
        """What happened, in one plain sentence without its full stop."""
        if not self.question_count:
            return "no question is linked to it"
        if self.last_day is None:
            return "none of its questions has been tried"
        last = f"last tried {dated(self.last_day, self.year)}"
        if self.state == "untested":
            if self.ever_wrong_count:
                missed = f"missed {often(self.ever_wrong_count)}"
            else:
                missed = "never missed"
            return f"{missed} before you wrote it, not tried since; {last}"
        if not self.wrong_count:
            return f"right {self.tried_count} of {self.tried_count} since you wrote it; {last}"
        missed = f"missed {often(self.wrong_count)} since you wrote it"
        if self.state == "holding":
            return f"{missed}, then right twice in a row; {last}"
        if self.unsettled_day and not self.recent_wrong_count:
            day = dated(self.unsettled_day, self.year)
            return (
                f"the last {self.recent_count} all right, but the one you missed on {day} not yet"
                f" twice in a row; {missed}"
            )
        recent = f", {self.recent_wrong_count} of the last {self.recent_count}"
        return f"{missed}{recent if self.recent_count > 1 else ''}; {last}"


@record(frozen=True, kw_only=True)
class OpenMiss:
    """A question whose last answer was a miss, with no note yet."""

    question: QuestionId
    attempt: Attempt
    area: AreaId
    miss_count: int
    marks: float
    urgency: float


def judge(base: Base, today: date, notes: Iterable[Note] | None = None) -> tuple[Judged, ...]:
    """Judge notes, worst first: by exam items likely to be missed, times failed since written,
    then id; those whose last four answers were all right come after the others. See `STATES`.

    Args:
        base: The base as of `today`.
        today: The day to judge for.
        notes: Default: all of the base, whether or not they need work.

    Source: own, because it is missbook's own idea of a note at work.
    """
    if notes is None:
        return _judge_all(base, today)
    return _judged(base, today, notes, risk_of(base, today))


@kept_for_last_base
def _judge_all(base: Base, today: date) -> tuple[Judged, ...]:
    return _judged(base, today, base.notes, risk_of(base, today))


def evidence_of(base: Base, today: date) -> dict[NoteId, tuple[State, str]]:
    """State and evidence of every note, as `judge` has them, without working out what is at risk:
    the same on every day of a year with the same notes and answers.
    """
    return {row.note: (row.state, row.evidence) for row in _judged(base, today, base.notes, None)}


def _judged(
    base: Base, today: date, notes: Iterable[Note], risk: Risk | None
) -> tuple[Judged, ...]:
    answers, rows = Answers.of(base.attempts), [*notes]
    linked = [tuple(dict.fromkeys(note.questions)) for note in rows]
    mixed = _mixed_up(answers)
    asked = [_with_mixups(note, own, mixed) for note, own in zip(rows, linked, strict=True)]
    seen = risk.history.meetings if risk else meetings(answers.column("question"), answers.rights)
    told = _told(rows, asked, answers, seen)
    worth = zip(*risk.of_groups(linked), strict=True) if risk else [(0.0, 0.0, 0.0)] * len(rows)
    found = (
        _judge(note, questions, one, sums, risk, today)
        for note, questions, one, sums in zip(rows, linked, told, worth, strict=True)
    )
    return tuple(sorted(found, key=_order))


def _order(row: Judged) -> tuple[bool, float, int, str]:
    return (row.settled, -row.urgency, -row.wrong_count, row.note)


def _mixed_up(answers: Answers) -> dict[frozenset[str], list[Attempt]]:
    """Misses whose remark names two things taken for each other, by their names."""
    found: dict[frozenset[str], list[Attempt]] = {}
    for attempt in answers.only(~answers.rights & ~answers.equals("remark", "")):
        if pair := parse_pair(attempt.remark):
            found.setdefault(frozenset(map(str.casefold, pair)), []).append(attempt)
    return found


def _with_mixups(
    note: Note, linked: tuple[QuestionId, ...], mixed: dict[frozenset[str], list[Attempt]]
) -> tuple[QuestionId, ...]:
    """The questions of a note, and those in which the two things it compares were mixed up since
    it was written.
    """
    pair = frozenset(map(str.casefold, compared_in(note) or ())) if mixed else frozenset()
    again = [miss.question for miss in mixed.get(pair, ()) if note.answered_since(miss)]
    return tuple(dict.fromkeys((*linked, *again))) if again else linked


class _Told(NamedTuple):
    """What the answers say of one note; days are ordinal numbers, -1 where there is none."""

    tried_count: int
    wrong_count: int
    last_outcome: str
    last_day: int
    last_miss_day: int
    unsettled_day: int
    ever_tried_count: int
    ever_wrong_count: int
    recent_wrong_count: int


def _told(
    notes: Sequence[Note],
    questions: Sequence[tuple[QuestionId, ...]],
    answers: Answers,
    seen: Meetings,
) -> list[_Told]:
    """What the answers to its questions say of each note.

    A question is unsettled if a miss since the note was written was not followed by
    `RIGHT_TO_CLEAR` right answers in a row.
    """
    codes, index, other = seen.codes, seen.index, len(seen.index)
    order, counts = np.argsort(codes, kind="stable"), np.bincount(codes, minlength=other + 1)
    sizes = [len(own) for own in questions]
    links = np.fromiter((index.get(q, other) for own in questions for q in own), int)
    note_of = np.repeat(np.arange(len(notes)), sizes)
    # One row for each answer to a question of a note: by note, then question, then time.
    link = np.repeat(np.arange(len(links)), counts[links])
    ahead = np.cumsum(counts[links]) - counts[links]
    begins = np.cumsum(counts) - counts
    answer = order[(begins[links] - ahead)[link] + np.arange(len(link))]
    note, day, wrong = note_of[link], answers.days[answer], ~answers.rights[answer]
    moments = [n.written_at.timestamp() if n.written_at else np.nan for n in notes]
    days = [n.written_on.toordinal() if n.written_on else date.max.toordinal() for n in notes]
    after = answers.moments[answer] - np.array(moments)[note]
    since = np.where(np.isnan(after), day > np.array(days, int)[note], after >= MINUTE.seconds)
    missed = since & wrong
    last_miss, miss_day = np.full((2, len(links)), -1)
    np.maximum.at(last_miss, link[missed], np.flatnonzero(missed))
    np.maximum.at(miss_day, link[missed], day[missed])
    cleared = since & ~wrong & (np.arange(len(link)) > last_miss[link])
    run = np.bincount(link[cleared], minlength=len(links))
    unsettled = (last_miss >= 0) & (run < RIGHT_TO_CLEAR)
    last, last_wrong, unsettled_day = np.full((3, len(notes)), -1)
    np.maximum.at(last, note, answer)
    np.maximum.at(last_wrong, note[wrong], answer[wrong])
    np.maximum.at(unsettled_day, note_of[unsettled], miss_day[unsettled])
    ever = np.bincount(note, minlength=len(notes))
    by_time = np.lexsort((answer, note))
    left = np.cumsum(ever)[note[by_time]] - np.arange(len(link))
    recent = by_time[wrong[by_time] & (left <= RECENT_COUNT)]

    def number(rows: NDArray[Any]) -> Any:  # noqa: ANN401 - an array
        return np.bincount(note[rows], minlength=len(notes))

    def day_of(places: NDArray[Any]) -> Any:  # noqa: ANN401 - an array
        return np.append(answers.days, -1)[places]

    outcome, outcomes = answers.column("outcome")
    last_outcome = np.array([*outcomes, ""], object)[np.append(outcome, len(outcomes))[last]]
    columns = (
        *(number(since), number(missed), last_outcome, day_of(last), day_of(last_wrong)),
        *(unsettled_day, ever, number(wrong), number(recent)),
    )
    return [_Told(*row) for row in zip(*(column.tolist() for column in columns), strict=True)]


def _judge(
    note: Note,
    questions: tuple[QuestionId, ...],
    told: _Told,
    worth: tuple[float, float, float],
    risk: Risk | None,
    today: date,
) -> Judged:
    marks, urgency, chances = worth
    tried, wrong = told.tried_count, told.wrong_count
    state: State = "untested" if not tried else "failing" if told.unsettled_day > 0 else "holding"
    miss_fraction = chances / len(questions) if questions else 0.0
    area = note.areas[0] if note.areas else AreaId("")
    if questions and risk and not area:
        area = risk.area(questions[0])
    return Judged(
        note=note.id,
        title=note.title,
        area=area,
        state=state,
        question_count=len(questions),
        tried_count=tried,
        wrong_count=wrong,
        last_outcome=told.last_outcome,
        last_day=_day(told.last_day),
        last_miss_day=_day(told.last_miss_day),
        unsettled_day=_day(told.unsettled_day),
        ever_tried_count=told.ever_tried_count,
        ever_wrong_count=told.ever_wrong_count,
        recent_count=min(RECENT_COUNT, told.ever_tried_count),
        recent_wrong_count=told.recent_wrong_count,
        miss_fraction=miss_fraction,
        marks=marks,
        urgency=urgency,
        advice=_advice(note, state, 0 < wrong < tried, miss_fraction, today),
        year=today.year,
    )


def _day(number: int) -> date | None:
    return date.fromordinal(number) if number > 0 else None


def _advice(note: Note, state: State, mixed: bool, miss_fraction: float, today: date) -> Advice:
    """What to do with a note, by the first rule that fits.

    Failing: split it when it is long, or when it has several headings or table rows or is half as
    long, and answers many questions, some right and some wrong since it was written (it holds more
    than one idea); otherwise rewrite it. Untested: re-attempt its questions, but wait on the day it
    was written, when recognition would answer. Holding: re-attempt when a miss is more likely than
    not.
    """
    if state == "failing":
        apart = (
            len(note.headings) >= SPLIT_HEADING_COUNT
            or note.table_row_count >= SPLIT_ROW_COUNT
            or note.word_count > SPLIT_WORD_COUNT / 2
        )
        many = len(note.questions) >= SPLIT_QUESTION_COUNT and mixed and apart
        return "split" if many or note.word_count > SPLIT_WORD_COUNT else "rewrite"
    if state == "untested":
        if not note.questions:
            return "leave"
        return "wait" if note.written_on == today else "re-attempt"
    return "re-attempt" if miss_fraction >= DOUBT_FRACTION else "leave"


def open_misses(base: Base, today: date) -> tuple[OpenMiss, ...]:
    """Misses that no note answers and that were not dismissed, most urgent first.

    A question counts when its last answer was a miss: wrong or blank, since neither scored. A miss
    dismissed comes back when the question is missed again on a later day. Ties are in order of the
    question's reference.

    Source: own, because it is missbook's own idea of what is still to be answered.
    """
    risk, answers = risk_of(base, today), Answers.of(base.attempts)
    linked = {question for note in base.notes for question in note.questions}
    dismissed = {row.question: row.at.date() for row in base.dismissals}
    last = answers.latest & ~answers.rights & ~answers.where("question", linked.__contains__)
    places, (codes, names) = np.flatnonzero(last), answers.column("question")
    counts = np.bincount(codes[~answers.rights], minlength=len(names))[codes[places]]
    found = [
        OpenMiss(
            question=miss.question,
            attempt=miss,
            area=risk.area(miss.question),
            miss_count=count,
            marks=risk.marks(miss.question),
            urgency=risk.urgency(miss.question),
        )
        for miss, count in zip(answers.take(places), counts.tolist(), strict=True)
        if dismissed.get(miss.question, date.min) < miss.day
    ]
    return tuple(sorted(found, key=lambda row: (-row.urgency, row.question)))
