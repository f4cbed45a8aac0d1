"""The topics of an area: which of its notes hang together, what each group is worth, what bridges.

Groups come from the concept graph; the worth from the log. Names are the blueprint's own topics
where they fit, else the concept that most of the group share.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from kb.core.ids import NoteId, QuestionId
from kb.knowledge import concept_key, find_groups, order_by_links

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from kb.core.ids import AreaId
    from kb.core.model import Base, Note
    from kb.core.settings import Area
    from kb.knowledge import Graph, Node
    from kb.stats.marks_at_risk import Risk
    from kb.stats.note_state import Judged, OpenMiss

ALONE = "not linked to the rest"
"""Name of the notes that nothing ties to another note of the area."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Topic:
    """Notes of one area that hang together.

    `notes` stand in the order to read them; `marks` are at risk on their questions and on
    `open_misses`, each question counted once.
    """

    name: str
    notes: tuple[NoteId, ...]
    marks: float
    urgency: float
    failing: tuple[NoteId, ...]
    untested: tuple[NoteId, ...]
    open_misses: tuple[QuestionId, ...]
    tied: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Bridge:
    """A concept that notes of several areas share; `areas` in the blueprint's order."""

    concept: str
    areas: tuple[AreaId, ...]
    note_count: int


def find_topics(
    base: Base, graph: Graph, area: Area, judged: Sequence[Judged], risk: Risk
) -> tuple[Topic, ...]:
    """The topics of an area, most urgent first; notes on their own come last.

    Args:
        base: The base as it stands on the day.
        graph: Its concept graph.
        area: An area of the blueprint.
        judged: The notes of the area judged.
        risk: What is at risk.

    Source: blondel2008 for the groups; names and order are own.
    """
    notes = {note.id: note for note in base.notes if area.id in note.areas}
    states = {row.note: row.state for row in judged}
    worth = {row.note: row.urgency for row in judged}
    groups = find_groups(graph, [("note", note_id) for note_id in notes])
    found_notes = [[notes[NoteId(name)] for _, name in group] for group in groups]
    tied = [group for group in found_notes if len(group) > 1]
    alone = [note for group in found_notes if len(group) == 1 for note in group]
    names = _names(area, tied)
    place: dict[str, int] = {note.id: number for number, group in enumerate(tied) for note in group}
    missed = _place_misses(graph, area, place)
    ids = {note.path: note.id for note in base.notes}
    found: list[Topic] = []
    for number, group in enumerate([*tied, alone]):
        if not group:
            continue
        own = number < len(tied)
        misses = missed.get(number, ()) if own else ()
        order = reading_order(group, states, worth, ids)
        questions = {question for note in group for question in note.questions}
        found.append(
            Topic(
                name=names[number] if own else ALONE,
                notes=order,
                marks=sum(risk.marks(question) for question in sorted({*questions, *misses})),
                urgency=sum(risk.urgency(question) for question in sorted({*questions, *misses})),
                failing=tuple(name for name in order if states.get(name) == "failing"),
                untested=tuple(name for name in order if states.get(name) == "untested"),
                open_misses=misses,
                tied=own,
            )
        )
    return tuple(sorted(found, key=lambda topic: (not topic.tied, -topic.urgency, topic.name)))


def unplaced_misses(
    topics: Iterable[Topic], misses: Iterable[OpenMiss], area: str
) -> tuple[OpenMiss, ...]:
    """Open misses of the area that no topic took, in the order given."""
    placed = {question for topic in topics for question in topic.open_misses}
    return tuple(row for row in misses if row.area == area and row.question not in placed)


def _place_misses(
    graph: Graph, area: Area, place: Mapping[str, int]
) -> dict[int, tuple[QuestionId, ...]]:
    """Open misses of the area by the topic that most notes about their concepts belong to."""
    found: dict[int, list[QuestionId]] = {}
    own: Node = ("area", area.id)
    for node in graph.get(own, ()):
        if node[0] != "question":
            continue
        votes: Counter[int] = Counter()
        for concept in graph[node]:
            if concept[0] == "concept":
                votes.update(place[n[1]] for n in graph[concept] if n[1] in place)
        if votes:
            best = min(votes, key=lambda number: (-votes[number], number))
            found.setdefault(best, []).append(QuestionId(node[1]))
    return {number: tuple(sorted(questions)) for number, questions in found.items()}


def reading_order(
    group: Sequence[Note],
    states: Mapping[NoteId, str],
    worth: Mapping[NoteId, float],
    ids: Mapping[str, NoteId],
) -> tuple[NoteId, ...]:
    """Notes in the order to read them: what a note links to before it, else failing and dear first.
    `ids` are those of all notes by path.

    Source: own, because nobody published an order for notes.
    """
    links = {note.id: [ids.get(link.path, "") for link in note.links] for note in group}
    first = {
        note.id: (
            -worth.get(note.id, 0.0) - (1000.0 if states.get(note.id) == "failing" else 0.0),
            note.id,
        )
        for note in group
    }
    return order_by_links(links, first)  # type: ignore[arg-type, return-value]


def _names(area: Area, groups: Sequence[Sequence[Note]]) -> list[str]:
    """A name for each group, all different: a blueprint topic, else its commonest concepts."""
    inside = [Counter(_keys(group)) for group in groups]
    whole: Counter[str] = Counter()
    for counted in inside:
        whole.update(counted)
    spelt: dict[str, str] = {}
    for group in groups:
        for note in group:
            for concept in note.concepts:
                spelt.setdefault(concept_key(concept), concept)
    topics = {concept_key(topic): topic for topic in area.topics}
    names: list[str] = []
    for group, counted in zip(groups, inside, strict=True):
        best = sorted(
            counted,
            key=lambda key: (-counted[key] * counted[key] / whole[key], key not in topics, key),
        )
        known = [topics.get(key) or spelt[key] for key in best]
        name = known[0] if known else group[0].title
        if counted and counted[best[0]] < 2 and len(known) > 1 and best[0] not in topics:
            name = f"{known[0]}, {known[1]}"
        names.append(name)
    return [
        name if names.count(name) == 1 else f"{name} ({groups[at][0].title})"
        for at, name in enumerate(names)
    ]


def _keys(group: Iterable[Note]) -> list[str]:
    return [key for note in group for key in {concept_key(c): None for c in note.concepts}]


def find_bridges(base: Base, area: str) -> tuple[Bridge, ...]:
    """Concepts that tie an area to others: in most areas first, then most notes, then by name."""
    areas: dict[str, set[str]] = {}
    counts: Counter[str] = Counter()
    spelt: dict[str, str] = {}
    for note in base.notes:
        for concept in note.concepts:
            key = concept_key(concept)
            areas.setdefault(key, set()).update(note.areas)
            counts[key] += 1
            spelt.setdefault(key, concept)
    order = [known.id for known in base.exam.areas]
    found = [
        Bridge(
            concept=spelt[key],
            areas=tuple(known for known in order if known in names),
            note_count=counts[key],
        )
        for key, names in areas.items()
        if area in names and len(names) > 1 and counts[key] > 1
    ]
    rows = [row for row in found if len(row.areas) > 1]
    return tuple(sorted(rows, key=lambda row: (-len(row.areas), -row.note_count, row.concept)))
