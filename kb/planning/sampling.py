"""Random questions for a mixed session: without replacement, and seeded."""

from collections.abc import Collection, Mapping, Sequence
from datetime import date, timedelta
from random import Random

from kb.core.ids import AreaId, QuestionId
from kb.core.model import Base
from kb.planning.apportionment import share_out
from kb.planning.held_back import bank_questions, kept_unseen, protected

OPEN_DAYS = 7
"""A question drawn longer ago and not answered may be drawn again."""


def pool_of(
    base: Base,
    today: date,
    *,
    sources: Collection[str] = (),
    again: bool = False,
    held_back: bool = False,
) -> tuple[QuestionId, ...]:
    """The questions that may be drawn for the second round, in a fixed order.

    A question that was drawn comes back to the pool when it is not answered within a week, so that
    none is lost.

    Args:
        base: The base as it is.
        today: The day of the draw.
        sources: Ids of sources; all banks if none is named.
        again: Let questions that had their second turn come again.
        held_back: Draw from the questions held back, instead of all others.
    """
    held = protected(base, kept_unseen(base), today)
    used: set[QuestionId] = set() if again else repeated(base) | unanswered(base, today)
    found = bank_questions(base.study, sources)
    return tuple(q for q in sorted(found) if (q in held) == held_back and q not in used)


def repeated(base: Base) -> set[QuestionId]:
    """Questions that had their second turn: repeated on a later day, or logged as of the round."""
    first: dict[QuestionId, date] = {}
    found: set[QuestionId] = set()
    for attempt in base.attempts:
        if attempt.round == "second" or attempt.day > first.setdefault(
            attempt.question, attempt.day
        ):
            found.add(attempt.question)
    return found


def unanswered(base: Base, today: date) -> set[QuestionId]:
    """Questions drawn in the last week that have not been answered since."""
    since = today - timedelta(days=OPEN_DAYS)
    drawn = {row.question: row.at for row in base.draws if row.at.date() > since}
    answered = {
        a.question for a in base.attempts if a.question in drawn and a.at >= drawn[a.question]
    }
    return set(drawn) - answered


def draw(pool: Sequence[QuestionId], count: int, seed: str) -> tuple[QuestionId, ...]:
    """`count` questions at random without replacement, in random order; fewer if the pool is.

    Each question has the same chance, count / len(pool). The same pool and seed give the same.

    Source: cochran1977, simple random sampling without replacement.
    """
    return tuple(Random(seed).sample(list(pool), min(count, len(pool))))


def draw_by_area(
    pool: Sequence[QuestionId],
    areas: Mapping[QuestionId, AreaId],
    weights: Mapping[AreaId, int],
    count: int,
    seed: str,
    past: Mapping[AreaId, int] | None = None,
) -> tuple[QuestionId, ...]:
    """The same, with each area's share fixed by its items in the blueprint; the order is random.

    Shares are whole by largest remainder; what an area cannot give goes to the others. `past` are
    questions drawn before by area: they are made up for, so that small areas get their turn.

    Source: cochran1977, stratified sampling with proportional allocation.
    """
    random = Random(seed)
    strata: dict[AreaId, list[QuestionId]] = {}
    for question in pool:
        area = areas.get(question)
        if area is not None and weights.get(area):
            strata.setdefault(area, []).append(question)
    room = {area: len(strata[area]) for area in sorted(strata)}
    count = min(count, sum(room.values()))
    first = _made_up(room, weights, past, count) if past else dict.fromkeys(room, 0)
    left = {area: most - first[area] for area, most in room.items()}
    rest = share_out(count - sum(first.values()), weights, left)
    chosen = [q for a in room for q in random.sample(strata[a], first[a] + rest[a])]
    random.shuffle(chosen)
    return tuple(chosen)


def _made_up(
    room: Mapping[AreaId, int],
    weights: Mapping[AreaId, int],
    past: Mapping[AreaId, int],
    left: int,
) -> dict[AreaId, int]:
    """What each area lacks of its share over all draws, the most behind first."""
    whole = sum(past.get(area, 0) for area in room) + left
    total = sum(weights[area] for area in room)
    lack = {area: whole * weights[area] / total - past.get(area, 0) for area in room}
    given = {}
    for area in sorted(room, key=lambda a: (-lack[a], a)):
        given[area] = min(left, max(0, round(lack[area])), room[area])
        left -= given[area]
    return given
