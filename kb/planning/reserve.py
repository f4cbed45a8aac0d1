"""The questions of the declared banks: which there are, which were met, which are kept unseen."""

from __future__ import annotations

from collections import Counter
from functools import lru_cache
from types import MappingProxyType
from typing import TYPE_CHECKING

from kb.core.ids import AreaId, QuestionId, digest
from kb.planning.apportionment import largest_remainder

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from kb.core.model import Base
    from kb.core.settings import Source, Study


MOST_KEPT_FRACTION = 0.2
"""The reserve never takes more of a bank than this, so that a small bank can still be worked."""


def bank_questions(study: Study, sources: Collection[str] = ()) -> Mapping[QuestionId, AreaId]:
    """Every question of the banks with its area, in order of source and item.

    Args:
        study: The settings that declare the sources.
        sources: Ids of the sources to take, of whatever kind; all banks if none is named.

    Returns:
        Area by question; an empty area where the source's numbering does not tell. A source that
        declares neither its number of items nor ranges has none.
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
    """The reserve: unseen bank questions kept back for an honest check late on.

    Each area gives a share in proportion to its unseen questions; which ones is settled by a
    digest of the reference, so that it is the same on every device and does not follow the
    bank's order. It is never more than a fifth of the bank.

    Source: own, because second-round answers are flattered by recognition.
    """
    met = {attempt.question for attempt in base.attempts}
    bank = bank_questions(base.study)
    unseen: dict[AreaId, list[QuestionId]] = {}
    for question, area in bank.items():
        if question not in met:
            unseen.setdefault(area, []).append(question)
    counts = [len(questions) for questions in unseen.values()]
    most = int(MOST_KEPT_FRACTION * len(bank))
    wanted = min(base.study.reserve_count, most, sum(counts))
    kept: set[QuestionId] = set()
    for questions, share in zip(unseen.values(), largest_remainder(wanted, counts), strict=True):
        kept.update(sorted(questions, key=lambda question: digest("reserve", question))[:share])
    return frozenset(kept)


def unmet_by_area(base: Base, kept: frozenset[QuestionId]) -> Counter[AreaId]:
    """How many bank questions of each area are still to be met, the reserve left out.

    Source: own, because it only counts.
    """
    met = {attempt.question for attempt in base.attempts}
    return Counter(
        area
        for question, area in bank_questions(base.study).items()
        if question not in met and question not in kept
    )
