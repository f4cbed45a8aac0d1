"""Which notes work: each is judged by the answers to its questions since it was last written."""

from collections.abc import Iterable
from datetime import date
from operator import attrgetter
from typing import Literal

from kb.core.ids import AreaId, NoteId, QuestionId, State
from kb.core.last_base import kept_for_last_base
from kb.core.model import Attempt, Base, Note
from kb.core.pairs import compared_in, parse_pair
from kb.core.records import record
from kb.core.wording import dated, often
from kb.stats.marks_at_risk import Risk, risk_of

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
WHEN = attrgetter("at", "id")


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
    return _judge_all(base, today) if notes is None else _judged(base, today, notes)


@kept_for_last_base
def _judge_all(base: Base, today: date) -> tuple[Judged, ...]:
    return _judged(base, today, base.notes)


def _judged(base: Base, today: date, notes: Iterable[Note]) -> tuple[Judged, ...]:
    risk = risk_of(base, today)
    by_question, mixed = _by_question(base.attempts), _mixed_up(base.attempts)
    found = [_judge(note, by_question, mixed, risk, today) for note in notes]
    return tuple(sorted(found, key=_order))


def _order(row: Judged) -> tuple[bool, float, int, str]:
    return (row.settled, -row.urgency, -row.wrong_count, row.note)


def _by_question(attempts: Iterable[Attempt]) -> dict[QuestionId, list[Attempt]]:
    found: dict[QuestionId, list[Attempt]] = {}
    for attempt in attempts:
        found.setdefault(attempt.question, []).append(attempt)
    return found


def _mixed_up(attempts: Iterable[Attempt]) -> dict[frozenset[str], list[Attempt]]:
    """Misses whose remark names two things taken for each other, by their names."""
    found: dict[frozenset[str], list[Attempt]] = {}
    for attempt in attempts:
        pair = parse_pair(attempt.remark) if attempt.remark and not attempt.right else None
        if pair:
            found.setdefault(frozenset(map(str.casefold, pair)), []).append(attempt)
    return found


def _judge(
    note: Note,
    by_question: dict[QuestionId, list[Attempt]],
    mixed_up: dict[frozenset[str], list[Attempt]],
    risk: Risk,
    today: date,
) -> Judged:
    ever: list[Attempt] = []
    since: list[Attempt] = []
    unsettled: list[date] = []
    marks = chances = urgency = 0.0
    questions = tuple(dict.fromkeys(note.questions))
    for question in questions:
        share = risk.share(question)
        marks += risk.marks(question) * share
        urgency += risk.urgency(question) * share
        chances += risk.miss_fraction(question)
    pair = frozenset(map(str.casefold, compared_in(note) or ())) if mixed_up else frozenset()
    again = [miss.question for miss in mixed_up.get(pair, ()) if note.answered_since(miss)]
    for question in dict.fromkeys((*questions, *again)) if again else questions:
        own = by_question.get(question, ())
        later = [attempt for attempt in own if note.answered_since(attempt)]
        ever += own
        since += later
        if _unsettled(later):
            unsettled.append(max(attempt.day for attempt in later if not attempt.right))
    if len(ever) > 1:
        ever.sort(key=WHEN)
    missed = [attempt for attempt in ever if attempt.outcome != "right"]
    recent = ever[-RECENT_COUNT:]
    wrong_count = len([attempt for attempt in since if attempt.outcome != "right"])
    state: State = "untested" if not since else "failing" if unsettled else "holding"
    miss_fraction = chances / len(questions) if questions else 0.0
    area = note.areas[0] if note.areas else risk.area(questions[0]) if questions else AreaId("")
    mixed = 0 < wrong_count < len(since)
    return Judged(
        note=note.id,
        title=note.title,
        area=area,
        state=state,
        question_count=len(questions),
        tried_count=len(since),
        wrong_count=wrong_count,
        last_outcome=ever[-1].outcome if ever else "",
        last_day=ever[-1].day if ever else None,
        last_miss_day=missed[-1].day if missed else None,
        unsettled_day=max(unsettled, default=None),
        ever_tried_count=len(ever),
        ever_wrong_count=len(missed),
        recent_count=len(recent),
        recent_wrong_count=len([attempt for attempt in recent if attempt.outcome != "right"]),
        miss_fraction=miss_fraction,
        marks=marks,
        urgency=urgency,
        advice=_advice(note, state, mixed, miss_fraction, today),
        year=today.year,
    )


def _unsettled(later: list[Attempt]) -> bool:
    """Whether a miss since the note was written was not followed by two right answers in a row."""
    run = RIGHT_TO_CLEAR
    for attempt in later:
        run = run + 1 if attempt.outcome == "right" else 0
    return run < RIGHT_TO_CLEAR


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
    risk = risk_of(base, today)
    linked = {question for note in base.notes for question in note.questions}
    dismissed = {row.question: row.at.date() for row in base.dismissals}
    found: list[OpenMiss] = []
    for question, own in _by_question(base.attempts).items():
        last = own[-1]
        if last.right or question in linked:
            continue
        if question in dismissed and dismissed[question] >= last.day:
            continue
        found.append(
            OpenMiss(
                question=question,
                attempt=last,
                area=risk.area(question),
                miss_count=sum(not attempt.right for attempt in own),
                marks=risk.marks(question),
                urgency=risk.urgency(question),
            )
        )
    return tuple(sorted(found, key=lambda row: (-row.urgency, row.question)))
