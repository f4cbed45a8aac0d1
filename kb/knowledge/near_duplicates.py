"""Notes that say the same: near duplicates by their words and by what they are about.

Words are compared by the cosine of their weights, not by shared runs of words: the same point in
other words shares few runs. Two notes that link to each other are never reported.
"""

from collections.abc import Mapping

from kb.core.ids import NoteId
from kb.core.model import Base, Note
from kb.core.records import record
from kb.knowledge import concept_key

ALIKE_FRACTION = 0.6
ALIKE_WITH_CONCEPT_FRACTION = 0.5
"""Common practice, no source: of the demo's notes, twins written on purpose lie above .65 and the
nearest notes on two different points at .5."""


@record(frozen=True, kw_only=True)
class Twins:
    """Two notes that say the same; `keep` answers more questions, or was written first.

    `likeness_fraction` is the cosine of their words, 0 to 1; `notes` are the same two in any order.
    """

    keep: NoteId
    other: NoteId
    likeness_fraction: float
    notes: tuple[Note, Note]

    @property
    def shared_concepts(self) -> tuple[str, ...]:
        """Concepts of both, as the second of `notes` spells them."""
        note, other = self.notes
        own = {concept_key(concept) for concept in note.concepts}
        return tuple(concept for concept in other.concepts if concept_key(concept) in own)


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
            if likeness < ALIKE_FRACTION and not (
                likeness >= ALIKE_WITH_CONCEPT_FRACTION and _same_first(note, other)
            ):
                continue
            keep, gone = note.id, other.id
            if (-len(other.questions), gone) < (-len(note.questions), keep):
                keep, gone = gone, keep
            pair = Twins(keep=keep, other=gone, likeness_fraction=likeness, notes=(note, other))
            found[keep, gone] = pair
    return tuple(
        sorted(found.values(), key=lambda row: (-row.likeness_fraction, row.keep, row.other))
    )


def _same_first(note: Note, other: Note) -> bool:
    firsts = [concept_key(one.concepts[0]) for one in (note, other) if one.concepts]
    return len(firsts) == 2 and firsts[0] == firsts[1]


def _linked(note: Note, other: Note) -> bool:
    if not note.links:
        return False
    return any(link.path == other.path for link in note.links) and any(
        link.path == note.path for link in other.links
    )
