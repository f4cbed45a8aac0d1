"""Random questions for the mixed round: without replacement, seeded, and how mixed they are."""

from __future__ import annotations

from dataclasses import dataclass
from random import Random
from typing import TYPE_CHECKING

from kb.planning.apportionment import largest_remainder
from kb.planning.reserve import bank_questions, kept_unseen

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    from kb.core.ids import AreaId, QuestionId, Round
    from kb.core.model import Base

SHUFFLES = 400
"""Shuffles behind what chance gives: enough for a run's length to one place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Mixed:
    """The longest run of one area in a draw, and what chance gives: middle and 95 of 100."""

    longest: int
    usual: int
    high: int


def pool_of(
    base: Base,
    round_: Round,
    *,
    sources: Collection[str] = (),
    again: bool = False,
    reserve: bool = False,
) -> tuple[QuestionId, ...]:
    """The questions that may be drawn, in a fixed order.

    Args:
        base: The base as it stands.
        round_: Questions drawn or answered in this round before are left out.
        sources: Ids of sources; all banks if none is named.
        again: Let questions of this round come again.
        reserve: Draw from the questions kept unseen, instead of all others.

    Source: own, because it only selects.
    """
    kept = kept_unseen(base)
    used: set[QuestionId] = set()
    if not again:
        used.update(drawn.question for drawn in base.draws if drawn.round == round_)
        used.update(a.question for a in base.attempts if a.round == round_)
    found = bank_questions(base.study, sources)
    return tuple(q for q in sorted(found) if (q in kept) == reserve and q not in used)


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
) -> tuple[QuestionId, ...]:
    """The same, with each area's share fixed by its items in the blueprint; the order is random.

    Shares are whole by largest remainder; what an area cannot give goes to the others.

    Source: cochran1977, stratified sampling with proportional allocation.
    """
    random = Random(seed)
    strata: dict[AreaId, list[QuestionId]] = {}
    for question in pool:
        area = areas.get(question)
        if area is not None and weights.get(area):
            strata.setdefault(area, []).append(question)
    names = sorted(strata)
    taken = dict.fromkeys(names, 0)
    left = min(count, sum(len(questions) for questions in strata.values()))
    while left:
        room = [area for area in names if taken[area] < len(strata[area])]
        shares = largest_remainder(left, [weights[area] for area in room])
        for area, share in zip(room, shares, strict=True):
            give = min(share, len(strata[area]) - taken[area])
            taken[area] += give
            left -= give
    chosen = [q for area in names for q in random.sample(strata[area], taken[area])]
    random.shuffle(chosen)
    return tuple(chosen)


def longest_run(areas: Sequence[str]) -> int:
    """The most neighbours of one area in a row; 0 for none.

    Source: own, because it only counts.
    """
    longest = run = 0
    for i, area in enumerate(areas):
        run = run + 1 if i and area == areas[i - 1] else 1
        longest = max(longest, run)
    return longest


def mixed(areas: Sequence[str], seed: str) -> Mixed:
    """How mixed a draw is: its longest run of one area beside that of the same areas shuffled.

    Source: own, a permutation distribution from seeded shuffles.
    """
    random = Random(f"shuffle {seed}")
    pieces = list(areas)
    runs = []
    for _ in range(SHUFFLES):
        random.shuffle(pieces)
        runs.append(longest_run(pieces))
    runs.sort()
    middle, high = runs[SHUFFLES // 2], runs[int(SHUFFLES * 0.95)]
    return Mixed(longest=longest_run(areas), usual=middle, high=high)
