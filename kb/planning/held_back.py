"""The questions of the declared banks: which there are, which were met, which are kept unseen."""

from collections.abc import Collection, Mapping, Sequence
from datetime import date, timedelta
from functools import lru_cache
from types import MappingProxyType

from kb.core.answers import Answers
from kb.core.ids import AreaId, QuestionId, digest
from kb.core.model import Base
from kb.core.settings import Source, Study
from kb.planning.apportionment import share_out
from kb.planning.paper_days import CHECKS

CHECK_COUNT = 100
"""Held-back questions of one check: as many as a part of the exam has."""
MOST_KEPT_FRACTION = 0.2
"""No more of a bank than this is held back, so that a small bank can still be worked."""


def bank_questions(study: Study, sources: Collection[str] = ()) -> Mapping[QuestionId, AreaId]:
    """Every question of the banks with its area, in order of source and item.

    Args:
        study: The settings that declare the sources.
        sources: Ids of the sources to take, of whatever kind; all banks if none is named.

    Returns:
        Area by question; the area is empty where the source's numbering does not give it. A source
        that declares neither its number of questions nor ranges has none.
    """
    chosen = (
        source
        for source in study.sources
        if source.id in sources or (not sources and source.kind == "bank")
    )
    return _questions_of_all(tuple(chosen))


@lru_cache(maxsize=8)
def _questions_of_all(sources: tuple[Source, ...]) -> Mapping[QuestionId, AreaId]:
    """Kept between calls, since one report asks for the same thousands of questions many times."""
    found: dict[QuestionId, AreaId] = {}
    for source in sources:
        found.update(_questions_of(source))
    return MappingProxyType(found)


def _questions_of(source: Source) -> dict[QuestionId, AreaId]:
    if source.item_count:
        numbers = range(1, source.item_count + 1)
        areas: dict[int, AreaId] = {
            number: span.area
            for span in reversed(source.ranges)
            for number in range(span.first, min(span.last, source.item_count) + 1)
        }
        return {QuestionId(f"{source.id}:{n}"): areas.get(n, AreaId("")) for n in numbers}
    return {
        QuestionId(f"{source.id}:{number}"): span.area
        for span in source.ranges
        for number in range(span.first, span.last + 1)
    }


def kept_unseen(base: Base) -> frozenset[QuestionId]:
    """Bank questions held back, unseen, for an honest check late on.

    They are chosen once, by `choose_held_back`, and written down; those met since no longer
    belong to them.
    """
    met = Answers.of(base.attempts).distinct("question")
    return frozenset(base.held_back or choose_held_back(base)) - met


def choose_held_back(base: Base) -> tuple[QuestionId, ...]:
    """The unseen bank questions to hold back, in order of reference.

    Each area gives its share by the blueprint, as far as it has unseen questions; which ones is
    decided by a digest of the reference, the same on every device. Never more than a fifth of the
    banks.

    Source: cochran1977, stratified sampling with proportional allocation.
    """
    met = Answers.of(base.attempts).distinct("question")
    bank = bank_questions(base.study)
    unseen: dict[AreaId, list[QuestionId]] = {}
    for question, area in bank.items():
        if question not in met:
            unseen.setdefault(area, []).append(question)
    wanted = min(base.study.held_back_count, int(MOST_KEPT_FRACTION * len(bank)))
    return _by_blueprint(base, unseen, wanted)


def _by_blueprint(
    base: Base, pool: Mapping[AreaId, Sequence[QuestionId]], wanted: int
) -> tuple[QuestionId, ...]:
    """That many questions, shared out by the exam's items; what an area lacks the others give."""
    items = {area.id: area.item_count for area in base.exam.areas}
    most = {area: len(pool[area]) for area in sorted(pool)}
    kept: list[QuestionId] = []
    for area, count in share_out(wanted, items, most).items():
        kept += sorted(pool[area], key=lambda question: digest("reserve", question))[:count]
    return tuple(sorted(kept))


def release_day(exam_day: date) -> date:
    """From this day on, after the last day of the first check, all but 100 are released."""
    return exam_day - timedelta(days=CHECKS[0][1] - 1)


def protected(base: Base, kept: frozenset[QuestionId], day: date) -> frozenset[QuestionId]:
    """Which of those held back may not be used on a day: all, then 100 of them, in the end none."""
    exam_day = base.exam.date
    if day < release_day(exam_day):
        return kept
    if day > exam_day - timedelta(days=CHECKS[-1][1]):  # the last day of the last check
        return frozenset()
    bank = bank_questions(base.study)
    pool: dict[AreaId, list[QuestionId]] = {}
    for question in kept:
        pool.setdefault(bank.get(question, AreaId("")), []).append(question)
    return frozenset(_by_blueprint(base, pool, CHECK_COUNT))
