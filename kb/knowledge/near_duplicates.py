"""Notes that say the same: near duplicates by their words and by what they are about.

Words are compared by the cosine of their weights, not by shared runs of words: the same point in
other words shares few runs. Two notes that link to each other are never reported.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from kb.core.ids import NoteId
from kb.core.model import Base, Note
from kb.knowledge import concept_key

ALIKE_FRACTION = 0.6
ALIKE_WITH_CONCEPT_FRACTION = 0.5
"""Common practice, no source: of the demo's notes, twins written on purpose lie above .65 and the
nearest notes on two different points at .5."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Twins:
    """Two notes that say the same; `keep` answers more questions, or was written first.

    `likeness_fraction` is the cosine of their words, 0 to 1.
    """

    keep: NoteId
    other: NoteId
    likeness_fraction: float
    shared_concepts: tuple[str, ...]


def find_twins(
    base: Base, neighbours: Mapping[str, tuple[tuple[str, float], ...]]
) -> tuple[Twins, ...]:
    """Pairs of notes that say the same, most alike first.

    Args:
        base: The notes.
        neighbours: Similar notes by path, as (path, cosine in [0, 1]).

    Two notes are twins from a cosine of 0.6, or of 0.5 if their first concept is the same. Two
    that link to each other were both kept on purpose and are left out.

    Source: own, because cosines of short notes have no published threshold; see the constants.
    """
    by_path = {note.path: note for note in base.notes}
    found: dict[tuple[str, str], Twins] = {}
    for note in base.notes:
        for path, likeness in neighbours.get(note.path, ()):
            other = by_path.get(path)
            if other is None or other.id == note.id or _linked(note, other):
                continue
            shared = _shared(note, other)
            first = bool(shared) and concept_key(note.concepts[0]) == concept_key(other.concepts[0])
            if likeness < (ALIKE_WITH_CONCEPT_FRACTION if first else ALIKE_FRACTION):
                continue
            keep, gone = sorted((note, other), key=lambda one: (-len(one.questions), one.id))
            found[keep.id, gone.id] = Twins(
                keep=keep.id,
                other=gone.id,
                likeness_fraction=likeness,
                shared_concepts=shared,
            )
    return tuple(
        sorted(found.values(), key=lambda row: (-row.likeness_fraction, row.keep, row.other))
    )


def _shared(note: Note, other: Note) -> tuple[str, ...]:
    own = {concept_key(concept) for concept in note.concepts}
    return tuple(concept for concept in other.concepts if concept_key(concept) in own)


def _linked(note: Note, other: Note) -> bool:
    return any(link.path == other.path for link in note.links) and any(
        link.path == note.path for link in other.links
    )
