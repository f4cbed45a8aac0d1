"""What an import would change: answers that are new, known to the log, or replace one in it."""

from collections import Counter, defaultdict
from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from kb.core.ids import QuestionId
from kb.core.model import Attempt
from kb.formats.attempt_ids import content


@dataclass(frozen=True, slots=True, kw_only=True)
class Changes:
    """Answers of an import, sorted by what they do to the log.

    `changed` are pairs (in the log, in the import). `same_day_count` counts new answers to
    questions that the log has on the same day from elsewhere: perhaps the same answers.
    """

    new: tuple[Attempt, ...]
    known: tuple[Attempt, ...]
    changed: tuple[tuple[Attempt, Attempt], ...]
    same_day_count: int


def compare(
    drafts: Sequence[Attempt], logged: Sequence[Attempt], named: Sequence[Attempt], *, timed: bool
) -> Changes:
    """Sort the answers of an import.

    An answer is known when the log has one of equal content at its moment (on its day, where
    the import has no times). It replaces the one other answer to its question at that
    moment or day, if there is just one on either side: the same answer, in more detail or
    corrected.

    `named` are the drafts again, under the names that the log has now. The moments of a `timed`
    import are exact to the minute.
    """
    stock = Counter(content(attempt, timed) for attempt in logged)
    known: list[Attempt] = []
    rest: list[tuple[Attempt, tuple[QuestionId, date | datetime]]] = []
    for draft, own in zip(drafts, named, strict=True):
        told = content(own, timed)
        if stock[told]:
            stock[told] -= 1
            known.append(draft)
        else:
            rest.append((draft, _when(own, timed)))
    free: dict[Hashable, list[Attempt]] = defaultdict(list)
    for attempt in logged:
        told = content(attempt, timed)
        if stock[told]:
            stock[told] -= 1
            free[_when(attempt, timed)].append(attempt)
    claims = Counter(when for _, when in rest)
    days = {(attempt.question, attempt.day) for attempt in logged}
    same_day_count = 0
    new: list[Attempt] = []
    changed: list[tuple[Attempt, Attempt]] = []
    for draft, when in rest:
        if claims[when] == 1 and len(free[when]) == 1:
            changed.append((free[when][0], draft))
        else:
            new.append(draft)
            same_day_count += (when[0], draft.day) in days
    return Changes(
        new=tuple(new), known=tuple(known), changed=tuple(changed), same_day_count=same_day_count
    )


def _when(attempt: Attempt, timed: bool) -> tuple[QuestionId, date | datetime]:
    return attempt.question, attempt.at.replace(second=0) if timed else attempt.day
