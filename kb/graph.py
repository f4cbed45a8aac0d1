"""The concept graph: areas, concepts, notes and questions, and what is near to what.

Built in memory from a base and never stored. Nodes are (kind, id) pairs; every edge knows its kind.
Nearness is personalised PageRank on the undirected, weighted graph, so that many short paths count
and one path through a crowded node counts little. Hubs are damped twice: the walk leaves a node
over all its edges, and an edge to a concept or area that n notes share weighs 1/sqrt(n).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import networkx as nx

    from kb.model import Base, Note, NoteId

NodeKind = Literal["area", "concept", "note", "question"]
Node = tuple[NodeKind, str]

LINK_WEIGHT = 2.0
QUESTION_WEIGHT = 2.0
CONCEPT_WEIGHT = 1.5
AREA_WEIGHT = 0.5
SIMILAR_WEIGHT = 1.0
LEAST_SIMILARITY = 0.15
DAMPING = 0.85
"""Weights by judgement (own, because no corpus of doctors' notes is public): a link or a shared
question was set on purpose, a concept is a word, an area is a crowd. 0.85 is PageRank's usual."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Near:
    """A note near to where one looked; `nearness` is its fraction of the walk."""

    note: NoteId
    nearness: float
    why: tuple[str, ...]


def concept_key(concept: str) -> str:
    """One spelling of a concept for joining notes: case and white space do not matter."""
    return " ".join(concept.casefold().split())


def build_graph(
    base: Base, neighbours: Mapping[str, tuple[tuple[str, float], ...]] | None = None
) -> nx.Graph:
    """The graph of a base.

    Args:
        base: Its notes give nodes and edges; areas come from the blueprint.
        neighbours: Similar notes by path, as (path, similarity in [0, 1]).

    Returns:
        An undirected networkx graph; edges have `weight` and `kind`: area, concept, question,
        link or similar. Nodes and edges are added in a fixed order.
    """
    import networkx as nx

    graph = nx.Graph()
    for area in base.exam.areas:
        graph.add_node(("area", area.id))
    by_path = {note.path: note for note in base.notes}
    sizes = _crowd_sizes(base.notes)
    for note in base.notes:
        own: Node = ("note", note.id)
        graph.add_node(own)
        for kind, key in _attributes(note):
            weight = _WEIGHTS[kind] / sqrt(sizes[kind, key])
            graph.add_edge(own, (kind, key), weight=weight, kind=kind)
    for note in base.notes:
        for link in note.links:
            other = by_path.get(link.path)
            if other is not None and other.id != note.id:
                _join(graph, note, other, LINK_WEIGHT, "link")
        for path, similarity in (neighbours or {}).get(note.path, ()):
            other = by_path.get(path)
            if other is not None and other.id != note.id and similarity >= LEAST_SIMILARITY:
                _join(graph, note, other, SIMILAR_WEIGHT * similarity, "similar")
    return graph


_WEIGHTS: dict[NodeKind, float] = {
    "area": AREA_WEIGHT,
    "concept": CONCEPT_WEIGHT,
    "question": QUESTION_WEIGHT,
    "note": 1.0,
}


def _attributes(note: Note) -> list[Node]:
    found: list[Node] = [("area", area) for area in note.areas]
    found += [("concept", concept_key(concept)) for concept in note.concepts]
    found += [("question", question) for question in note.questions]
    return list(dict.fromkeys(found))


def _crowd_sizes(notes: tuple[Note, ...]) -> dict[Node, int]:
    sizes: dict[Node, int] = {}
    for note in notes:
        for node in _attributes(note):
            sizes[node] = sizes.get(node, 0) + 1
    return sizes


def _join(graph: nx.Graph, note: Note, other: Note, weight: float, kind: str) -> None:
    """Two notes joined twice keep the stronger edge: a link says more than likeness."""
    first, second = ("note", note.id), ("note", other.id)
    if graph.has_edge(first, second) and graph.edges[first, second]["weight"] >= weight:
        return
    graph.add_edge(first, second, weight=weight, kind=kind)


def nearness(graph: nx.Graph, seeds: Mapping[Node, float]) -> dict[Node, float]:
    """How near every reachable node is to the seeds: personalised PageRank, summing to 1.

    Seeds that are not in the graph, or weigh nothing, do not count; without any seed nothing is
    near, and the answer is empty.

    Source: langville2005.
    """
    import networkx as nx

    known = {node: weight for node, weight in seeds.items() if weight > 0 and node in graph}
    if not known:
        return {}
    reached = {node for seed in known for node in nx.node_connected_component(graph, seed)}
    ranks: dict[Node, float] = nx.pagerank(
        graph.subgraph(node for node in graph if node in reached),
        alpha=DAMPING,
        personalization=known,
        dangling=known,
        weight="weight",
        tol=1e-9,
        max_iter=500,
    )
    return ranks


def near_note(base: Base, graph: nx.Graph, note: Note, limit: int) -> tuple[Near, ...]:
    """The notes nearest to one note, nearest first; ties in order of id."""
    seeds: dict[Node, float] = {("note", note.id): 1.0}
    return _nearest(base, graph, seeds, limit, lambda other: _why_note(graph, note, other))


def near_area(base: Base, graph: nx.Graph, area: str, limit: int) -> tuple[Near, ...]:
    """The notes nearest to an area: its own and those of other areas that bear on it."""
    inside = [other for other in base.notes if area in other.areas]
    concepts = {concept_key(concept): concept for other in inside for concept in other.concepts}
    seeds: dict[Node, float] = {("area", area): 1.0}
    return _nearest(base, graph, seeds, limit, lambda other: _why_area(other, area, concepts))


def _nearest(
    base: Base,
    graph: nx.Graph,
    seeds: dict[Node, float],
    limit: int,
    why: Callable[[Note], tuple[str, ...]],
) -> tuple[Near, ...]:
    ranks = nearness(graph, seeds)
    found: list[tuple[float, Note]] = []
    for note in base.notes:
        node: Node = ("note", note.id)
        if node not in seeds and ranks.get(node, 0.0) > 0:
            found.append((ranks[node], note))
    found.sort(key=lambda pair: (-round(pair[0], 12), pair[1].id))
    return tuple(Near(note=n.id, nearness=rank, why=why(n)) for rank, n in found[:limit])


def _why_note(graph: nx.Graph, note: Note, other: Note) -> tuple[str, ...]:
    reasons: list[str] = []
    if any(link.path == other.path for link in note.links):
        reasons.append("linked from it")
    if any(link.path == note.path for link in other.links):
        reasons.append("links to it")
    shared = [question for question in note.questions if question in other.questions]
    if shared:
        reasons.append("answers the same question " + ", ".join(shared[:2]))
    own = {concept_key(concept) for concept in note.concepts}
    concepts = [concept for concept in other.concepts if concept_key(concept) in own]
    if concepts:
        reasons.append("both about " + ", ".join(concepts[:3]))
    edge = graph.get_edge_data(("note", note.id), ("note", other.id))
    if edge and edge["kind"] == "similar":
        reasons.append("says much the same in other words")
    if not reasons:
        reasons.append(_through(graph, note, other))
    return tuple(reasons)


def _through(graph: nx.Graph, note: Note, other: Note) -> str:
    """Why a note is near that shares nothing directly: the shortest way there."""
    import networkx as nx

    path = nx.shortest_path(graph, ("note", note.id), ("note", other.id))
    kind, name = path[1]
    if kind == "area":
        return f"also in {name}"
    return f"by way of {name}"


def _why_area(other: Note, area: str, concepts: Mapping[str, str]) -> tuple[str, ...]:
    if area in other.areas:
        bridge = [name for name in other.areas if name != area]
        return (f"here and in {', '.join(bridge)}",) if bridge else ("of this area",)
    shared = [c for c in other.concepts if concept_key(c) in concepts]
    own = other.areas[0] if other.areas else "no area"
    if shared:
        return (f"from {own}, shares {', '.join(shared[:3])}",)
    return (f"from {own}, near to its notes",)
