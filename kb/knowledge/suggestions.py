"""Suggestions while writing: notes that may cover it already, its area, its concepts.

Pure: given the notes that the index finds near a remark or a draft. Nothing is changed; the doctor
decides.
"""

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from kb.core.ids import AreaId, NoteId
from kb.core.model import Note
from kb.core.search_result import Hit
from kb.language.abbreviations import Glossary
from kb.language.normalise import key, words

SAME_LEVEL = -2.8
SAME_COVERED = 2.0
SAME_LEAD = 7.3
"""Chance that the nearest note is on the same matter, on the logit: level, times the fraction of
the text it covers, times its relative lead over the next note. Fitted on halves of documents of
two public collections; a fit on either one was tested on the other."""

LIKELY_SAME = 0.8
"""From this chance on a note is called likely the same."""
MAY_COVER = 0.3
"""From this chance on a note that is not the nearest is named as well."""

NEIGHBOURS = 10
"""Notes that vote on the area."""
VOTE_POWER = 2.0
"""Votes count by covered fraction to this power, so that near notes decide."""
LONGEST = 8
"""Words of the longest concept or title that is looked for in a text."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Nearby:
    """A note that may cover the text already. `chance` is that it is on the same matter."""

    note: NoteId
    covered_fraction: float
    chance: float

    @property
    def likely_same(self) -> bool:
        """Whether it is better to add to this note than to write another."""
        return self.chance >= LIKELY_SAME


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestions:
    """What can be said of a remark or a draft.

    `nearby` is best first; `area` is empty when no neighbour has one; `area_fraction` is the
    fraction of the vote it won; `concepts` are those named in the text, in order of mention.
    """

    nearby: tuple[Nearby, ...] = ()
    area: str = ""
    area_fraction: float = 0.0
    concepts: tuple[str, ...] = ()


def suggest(text: str, hits: Sequence[Hit], notes: Iterable[Note]) -> Suggestions:
    """All suggestions for a text.

    Args:
        text: A remark on a miss, or a draft of a note.
        hits: Notes near the text, best first, with the fraction of it that each covers.
        notes: All notes of the base.
    """
    by_id = {note.id: note for note in notes}
    near = [hit for hit in hits if hit.note in by_id]
    area, fraction = vote_area(near, {id_: note.areas for id_, note in by_id.items()})
    concepts = {concept for note in by_id.values() for concept in note.concepts}
    return Suggestions(
        nearby=rank_nearby(near),
        area=area,
        area_fraction=fraction,
        concepts=named(text, concepts, Glossary()),
    )


def chance_same(covered_fraction: float, next_fraction: float) -> float:
    """Chance that the nearest note is on the same matter as a text.

    Args:
        covered_fraction: Fraction of the text that the nearest note covers, 0 to 1.
        next_fraction: Fraction that the next nearest note covers.

    Source: own, because no published figure fits: a logistic curve fitted on held-out pairs.
    """
    if covered_fraction <= 0:
        return 0.0
    lead = max(0.0, 1 - next_fraction / covered_fraction)
    logit = SAME_LEVEL + SAME_COVERED * covered_fraction + SAME_LEAD * lead
    return 1 / (1 + math.exp(-logit))


def rank_nearby(hits: Sequence[Hit], limit: int = 5) -> tuple[Nearby, ...]:
    """Notes that may cover a text already, best first.

    A note that is not the nearest is judged as if nothing were between it and the text.
    """
    found: list[Nearby] = []
    for number, hit in enumerate(hits[:limit]):
        after = hits[number + 1].weight if number + 1 < len(hits) else 0.0
        chance = chance_same(hit.weight, after)
        if found:
            chance = min(chance, found[-1].chance)
        if chance < MAY_COVER and found:
            break
        found.append(Nearby(note=hit.note, covered_fraction=hit.weight, chance=chance))
    return tuple(found)


def vote_area(hits: Sequence[Hit], areas: Mapping[NoteId, tuple[AreaId, ...]]) -> tuple[str, float]:
    """The area most neighbours lie in, and the fraction of the vote it won; ("", 0) if none.

    Source: cover1967, nearest neighbours; the weights are own, chosen on a public collection.
    """
    votes: dict[str, float] = defaultdict(float)
    for hit in hits[:NEIGHBOURS]:
        held = areas.get(hit.note, ())
        for area in held:
            votes[area] += max(0.0, hit.weight) ** VOTE_POWER / len(held)
    total = sum(votes.values())
    if not total:
        return "", 0.0
    best = min(votes, key=lambda area: (-votes[area], area))
    return best, votes[best] / total


def named(text: str, names: Iterable[str], glossary: Glossary) -> tuple[str, ...]:
    """Which names stand in a text, in order of mention, the longer first where they overlap.

    A name stands in the text whatever its spelling or ending, and also as an abbreviation that
    has it as a meaning.
    """
    typed = words(text)
    spelt = [key(word) for word in typed]
    places: list[tuple[int, tuple[str, ...]]] = [(0, tuple(spelt))]
    for expansion in glossary.expand(typed):
        places.extend((expansion.start, form) for _, form in expansion.forms)
    wanted: dict[str, list[tuple[tuple[str, ...], str]]] = defaultdict(list)
    for name in names:
        form = tuple(key(word) for word in words(name))
        if form and form[0] and len(form) <= LONGEST:
            wanted[form[0]].append((form, name))
    found: dict[str, tuple[int, int]] = {}
    for start, sequence in places:
        for at, first in enumerate(sequence):
            for form, name in wanted.get(first, ()):
                if sequence[at : at + len(form)] == form and name not in found:
                    found[name] = (start + at, -len(form))
    return tuple(sorted(found, key=lambda name: (found[name], name)))
