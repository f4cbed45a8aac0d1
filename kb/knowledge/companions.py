"""What to read with a failing note: what it relies on, and what it is confused with."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from kb.knowledge.graph_builder import MOST_SHARING, mixed_up_notes

if TYPE_CHECKING:
    from collections.abc import Collection

    from kb.core.ids import NoteId, QuestionId
    from kb.core.model import Base

CompanionKind = Literal["prerequisite", "mix-up", "shared question"]
ORDER: tuple[CompanionKind, ...] = ("mix-up", "prerequisite", "shared question")
BUILDS_ON = "this note builds on it"
BOTH_ANSWER = "both answer one question"


@dataclass(frozen=True, slots=True, kw_only=True)
class Companion:
    """A note to read with another; `why` completes "read it too, because ..."."""

    note: NoteId
    kind: CompanionKind
    why: str


def companions(
    base: Base, failing: Collection[NoteId], wanted: Collection[NoteId], limit: int
) -> dict[NoteId, tuple[Companion, ...]]:
    """For each note wanted up to `limit` others to read with it, best first.

    A prerequisite is a note that it links to; a confused neighbour is one that was mixed up with
    it, or one that answers the same question. Confused neighbours come first, then prerequisites;
    inside a kind those that fail too, then those mixed up more often, linked to earlier, or with
    more questions in common, then in order of id.

    Args:
        base: The notes and the log.
        failing: All notes that fail.
        wanted: Those whose companions are wanted.
        limit: The most for each note.

    Returns:
        A key for every note wanted that has any.

    Source: own, because nobody published an order.
    """
    notes = [note for note in base.notes if note.id in wanted]
    mixed: dict[NoteId, dict[NoteId, tuple[int, str]]] = {}
    for one, other, count, why in mixed_up_notes(base):
        for own, far in ((one.id, other.id), (other.id, one.id)):
            mixed.setdefault(own, {}).setdefault(far, (count, why))
    by_path = {note.path: note.id for note in base.notes}
    sharing = _sharing(base, {question for note in notes for question in note.questions})
    result: dict[NoteId, tuple[Companion, ...]] = {}
    for note in notes:
        same = Counter(other for question in note.questions for other in sharing[question])
        linked = [by_path[link.path] for link in note.links if link.path in by_path]
        rows: list[tuple[CompanionKind, int, NoteId, str]]
        rows = [("mix-up", -n, far, why) for far, (n, why) in mixed.get(note.id, {}).items()]
        rows += [("prerequisite", at, far, BUILDS_ON) for at, far in enumerate(linked)]
        rows += [("shared question", -n, far, BOTH_ANSWER) for far, n in same.items()]
        rows.sort(key=lambda row: (ORDER.index(row[0]), row[2] not in failing, row[1:3]))
        best: dict[NoteId, Companion] = {}
        for kind, _, far, why in rows:
            best.setdefault(far, Companion(note=far, kind=kind, why=why))
        best.pop(note.id, None)
        if best:
            result[note.id] = tuple(best.values())[:limit]
    return result


def _sharing(base: Base, questions: set[QuestionId]) -> dict[QuestionId, list[NoteId]]:
    """The notes that answer each of the questions; none where those are too many."""
    found: dict[QuestionId, list[NoteId]] = {question: [] for question in questions}
    for note in base.notes:
        for question in note.questions:
            if question in questions:
                found[question].append(note.id)
    return {q: notes if len(notes) <= MOST_SHARING else [] for q, notes in found.items()}
