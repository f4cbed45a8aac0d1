"""What to read with a failing note: what it relies on, and what it is confused with."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from kb.core.answers import Answers
from kb.knowledge.graph_builder import MIXED_UP
from kb.knowledge.mixups import pair_misses
from kb.knowledge.pagerank import nearness
from kb.language.name_matching import Naming

if TYPE_CHECKING:
    from collections.abc import Mapping

    import networkx as nx

    from kb.core.ids import NoteId, QuestionId
    from kb.core.model import Base, Note
    from kb.knowledge.graph_builder import Node

CompanionKind = Literal["prerequisite", "mix-up", "shared question"]
ORDER: tuple[CompanionKind, ...] = ("mix-up", "prerequisite", "shared question")


@dataclass(frozen=True, slots=True, kw_only=True)
class Companion:
    """A note to read together with `of`; `why` completes "read it too, because ..."."""

    note: NoteId
    of: NoteId
    kind: CompanionKind
    why: str
    nearness: float


def companions(
    base: Base, graph: nx.Graph, failing: Mapping[NoteId, float], limit: int = 2
) -> dict[NoteId, tuple[Companion, ...]]:
    """For each failing note up to `limit` others to read with it, best first.

    A prerequisite is a note that the failing one links to; a confused neighbour is one tied to it
    by a mix-up, or one that answers the same question. Confused neighbours come first, then
    prerequisites; inside a kind the order is nearness to everything that fails (personalised
    PageRank seeded by it), then id.

    Args:
        base: The base the graph was built from.
        graph: See `build_graph`.
        failing: Marks at risk of each failing note, the seeds.
        limit: The most for each note.

    Returns:
        A key for every failing note that has any, in the order of `failing`.

    Source: langville2005 for the walk; the choice is own, because nobody published one.
    """
    seeds: dict[Node, float] = {("note", note): max(marks, 1e-6) for note, marks in failing.items()}
    near = nearness(graph, seeds)
    by_id = {note.id: note for note in base.notes}
    by_path = {note.path: note for note in base.notes}
    result: dict[NoteId, tuple[Companion, ...]] = {}
    for note_id in failing:
        note = by_id.get(note_id)
        if note is None or ("note", note_id) not in graph:
            continue
        leans_on = {by_path[link.path].id for link in note.links if link.path in by_path}
        found: list[Companion] = []
        for node, edge in graph["note", note_id].items():
            kind = _kind(node, edge["kind"].split("+"), leans_on)
            if kind is not None:
                found.append(
                    Companion(
                        note=node[1],
                        of=note_id,
                        kind=kind,
                        why=_why(kind, edge["why"]),
                        nearness=near.get(node, 0.0),
                    )
                )
        found.sort(key=lambda c: (ORDER.index(c.kind), -round(c.nearness, 12), c.note))
        if found:
            result[note_id] = tuple(found[:limit])
    return result


def neighbourhood(base: Base, wanted: frozenset[NoteId]) -> Base:
    """The base cut to the notes that could be companions of those wanted, and their ties.

    That is, notes that share a question with one of them, link to it, are linked from it, or may be
    named in a mix-up with it. A few too many do no harm: the graph of the cut base decides. A list
    of ten notes thus never pays for the graph of thousands.
    """
    centre = [note for note in base.notes if note.id in wanted]
    questions = {question for note in centre for question in note.questions}
    paths = {note.path for note in centre}
    linked = {link.path for note in centre for link in note.links}
    naming = Naming((), base.glossary)
    words = _mixed_up(base, naming, centre, questions)
    kept = tuple(
        note
        for note in base.notes
        if note.id in wanted
        or note.path in linked
        or any(question in questions for question in note.questions)
        or any(link.path in paths for link in note.links)
        or (words and words & _name_words(naming, note))
    )
    asked = {question for note in kept for question in note.questions}
    answers = Answers.of(base.attempts)
    asked |= answers.distinct("question", ~answers.equals("remark", ""))
    return replace(
        base, notes=kept, attempts=answers.only(answers.where("question", asked.__contains__))
    )


def _mixed_up(
    base: Base, naming: Naming, centre: list[Note], questions: set[QuestionId]
) -> frozenset[str]:
    """Words of every name that a note of `centre` may be taken for."""
    own = {word for note in centre for word in _name_words(naming, note)}
    found: set[str] = set()
    for miss in pair_misses(base):
        words = {word for name in miss.pair for way in naming.ways(name) for word in way}
        if miss.attempt.question in questions or words & own:
            found |= words
    return frozenset(found)


def _name_words(naming: Naming, note: Note) -> set[str]:
    names = (note.title, *note.concepts)
    return {word for name in names for way in naming.ways(name) for word in way}


def _kind(node: Node, kinds: list[str], leans_on: set[NoteId]) -> CompanionKind | None:
    if node[0] != "note":
        return None
    if "mix-up" in kinds:
        return "mix-up"
    if node[1] in leans_on:
        return "prerequisite"
    return "shared question" if "shared question" in kinds else None


def _why(kind: CompanionKind, whys: str) -> str:
    if kind == "mix-up":
        return next(part for part in whys.split("; ") if MIXED_UP in part)
    if kind == "prerequisite":
        return "this note builds on it"
    return "both answer one question"
