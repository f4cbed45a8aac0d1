"""What is near: personalised PageRank from a starting point, with a reason for each note."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain
from operator import itemgetter
from typing import TYPE_CHECKING

from kb.knowledge.graph_builder import MIXED_UP, SAME_IN_OTHER_WORDS, SAME_WORDS, concept_key

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from kb.core.ids import NoteId
    from kb.core.model import Base, Note
    from kb.knowledge.graph_builder import Graph, Node

DAMPING = 0.85
"""PageRank's usual share of steps that follow an edge."""
MOST_STEPS = 500
TOLERANCE = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class Near:
    """A note near the starting point; `nearness` is its fraction of the walk."""

    note: NoteId
    nearness: float
    why: tuple[str, ...]


def nearness(graph: Graph, seeds: Mapping[Node, float]) -> dict[Node, float]:
    """How near every reachable node is to the seeds: personalised PageRank, summing to 1.

    Seeds that are not in the graph, or weigh nothing, do not count; without any seed nothing is
    near, and the answer is empty.

    Source: langville2005.
    """
    known = {node: weight for node, weight in seeds.items() if weight > 0 and node in graph}
    if not known:
        return {}
    import numpy as np

    # By hand: the library's own walk needs scipy, which takes longer to load than this.
    nodes = list(graph)
    places = {node: place for place, node in enumerate(nodes)}
    ties = [graph[node] for node in nodes]
    origin = np.repeat(np.arange(len(nodes)), np.fromiter(map(len, ties), int, len(nodes)))
    goals = map(places.__getitem__, chain.from_iterable(ties))
    goal = np.fromiter(goals, int, len(origin))
    edges = chain.from_iterable(around.values() for around in ties)
    weight = np.fromiter(map(itemgetter("weight"), edges), float, len(origin))
    strength = np.bincount(origin, weight, len(nodes))
    share = DAMPING * weight / strength[origin]
    lone = strength == 0
    start = np.zeros(len(nodes))
    start[[places[node] for node in known]] = list(known.values())
    start /= start.sum()
    ranks = start
    for _ in range(MOST_STEPS):
        kept = 1 - DAMPING + DAMPING * ranks[lone].sum()
        new = kept * start + np.bincount(goal, ranks[origin] * share, len(nodes))
        moved = np.abs(new - ranks).sum()
        ranks = new
        if moved < TOLERANCE:
            break
    return {node: rank for node, rank in zip(nodes, ranks.tolist(), strict=True) if rank > 0}


def near_note(base: Base, graph: Graph, note: Note, limit: int) -> tuple[Near, ...]:
    """The notes nearest to one note, nearest first; ties in order of id.

    Only notes that are tied to it, or that share a neighbour with it other than an area: a note
    of which no reason can be given is not shown.
    """
    seeds: dict[Node, float] = {("note", note.id): 1.0}
    return _nearest(base, graph, seeds, limit, lambda other: _why_note(graph, note, other))


def near_area(base: Base, graph: Graph, area: str, limit: int) -> tuple[Near, ...]:
    """The notes of other areas that bear on one, nearest to it first."""
    inside = [other for other in base.notes if area in other.areas]
    concepts = {concept_key(concept) for other in inside for concept in other.concepts}

    def why(other: Note) -> tuple[str, ...]:
        return () if area in other.areas else _why_area(graph, other, area, concepts)

    return _nearest(base, graph, {("area", area): 1.0}, limit, why)


def suggest_links(base: Base, graph: Graph, note: Note, limit: int) -> tuple[Near, ...]:
    """Notes that this one should perhaps link to and does not, best first.

    Candidates are the nearest notes with a reason of their own (a shared question or concept, a
    mix-up, likeness), not merely the same area, and no link in either direction.
    """
    linked = frozenset(
        other.id
        for other in base.notes
        if any(link.path == other.path for link in note.links)
        or any(link.path == note.path for link in other.links)
    )

    def why(other: Note) -> tuple[str, ...]:
        return () if other.id in linked else tuple(_direct_reasons(graph, note, other))

    return _nearest(base, graph, {("note", note.id): 1.0}, limit, why)


def _nearest(
    base: Base,
    graph: Graph,
    seeds: dict[Node, float],
    limit: int,
    why: Callable[[Note], tuple[str, ...]],
) -> tuple[Near, ...]:
    """The first `limit` notes with a reason, in order of the walk."""
    ranks = nearness(graph, seeds)
    ranked: list[tuple[float, Note]] = []
    for note in base.notes:
        node: Node = ("note", note.id)
        if node not in seeds and ranks.get(node, 0.0) > 0:
            ranked.append((ranks[node], note))
    ranked.sort(key=lambda pair: (-round(pair[0], 12), pair[1].id))
    found: list[Near] = []
    for rank, note in ranked:
        if len(found) == limit:
            break
        reasons = why(note)
        if reasons:
            found.append(Near(note=note.id, nearness=rank, why=reasons))
    return tuple(found)


def _why_note(graph: Graph, note: Note, other: Note) -> tuple[str, ...]:
    reasons: list[str] = []
    if any(link.path == other.path for link in note.links):
        reasons.append("linked from it")
    if any(link.path == note.path for link in other.links):
        reasons.append("links to it")
    reasons += _direct_reasons(graph, note, other)
    return tuple(reasons or _through(graph, note, other))


def _direct_reasons(graph: Graph, note: Note, other: Note) -> list[str]:
    """What the two share, links aside."""
    reasons: list[str] = []
    shared = [question for question in note.questions if question in other.questions]
    if shared:
        reasons.append("answers the same question " + ", ".join(shared[:2]))
    edge = graph["note", note.id].get(("note", other.id), {"kind": "", "why": ""})
    kinds = edge["kind"].split("+")
    if "mix-up" in kinds:
        reasons += [why for why in edge["why"].split("; ") if MIXED_UP in why][:1]
    own = {concept_key(concept) for concept in note.concepts}
    concepts = [concept for concept in other.concepts if concept_key(concept) in own]
    if concepts:
        reasons.append("both about " + ", ".join(concepts[:3]))
    whys = edge["why"].split("; ")
    reasons += [words for words in (SAME_IN_OTHER_WORDS, SAME_WORDS) if words in whys]
    return reasons


def _through(graph: Graph, note: Note, other: Note) -> list[str]:
    """The strongest neighbour that both share, areas aside; nothing if there is none."""
    first, second = graph["note", note.id], graph["note", other.id]
    shared = [node for node in first if node in second and node[0] != "area"]
    if not shared:
        return []
    best = min(shared, key=lambda node: (-min(first[node]["weight"], second[node]["weight"]), node))
    return [f"by way of {graph.names[best]}"]


def _why_area(graph: Graph, other: Note, area: str, concepts: set[str]) -> tuple[str, ...]:
    """Why a note bears on another area: it shares a concept, or is tied to a note of it."""
    reasons = []
    shared = [concept for concept in other.concepts if concept_key(concept) in concepts]
    if shared:
        reasons.append("shares " + ", ".join(shared[:3]))
    ties = [
        (edge["weight"], node, edge)
        for node, edge in graph["note", other.id].items()
        if node[0] == "note" and ("area", area) in graph[node]
    ]
    if ties:
        _, node, edge = min(ties, key=lambda tie: (-tie[0], tie[1]))
        kinds, why = edge["kind"].split("+"), edge["why"].split("; ")
        phrases = [phrase for word, phrase in _TIES if word in kinds or word in why]
        if phrases:
            reasons.append(f"{phrases[0]} {graph.names[node]}")
    return tuple(reasons)


_TIES = (
    ("link", "linked with"),
    ("mix-up", "mixed up with"),
    ("shared question", "answers a question of"),
    (SAME_IN_OTHER_WORDS, "says much the same as"),
    (SAME_WORDS, "uses many words of"),
)
