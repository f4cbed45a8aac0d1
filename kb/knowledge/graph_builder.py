"""Base -> graph: nodes are (kind, id) pairs, and every edge knows its kind and why it is there.

Hubs are damped twice: a walk leaves a node over all its edges, and an edge to an area, concept or
question that n notes share weighs 1/sqrt(n). So a path through a crowded node counts little;
otherwise every note would be near every other of its area.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from functools import cache
from math import sqrt
from typing import TYPE_CHECKING, Any, Literal

from kb.core.answers import Answers, cells_of
from kb.core.pairs import parse_pair
from kb.core.wording import often
from kb.knowledge.mixups import rank_mixups
from kb.language.name_matching import Naming
from kb.language.normalise import keys

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kb.core.ids import QuestionId
    from kb.core.model import Base, Note

NodeKind = Literal["area", "concept", "note", "question"]
Node = tuple[NodeKind, str]
Edge = dict[str, Any]
Neighbours = Mapping[str, tuple[tuple[str, float], ...]]

LINK_WEIGHT = 2.0
QUESTION_WEIGHT = 2.0
MIXUP_WEIGHT = 2.0
CONCEPT_WEIGHT = 1.5
AREA_WEIGHT = 0.5
SIMILAR_WEIGHT = 1.0
LEAST_TOLD = 0.15
MUCH_THE_SAME = 0.5
"""Weights by judgement (own, because no corpus of doctors' notes is public): a link, a shared
question or a mix-up happened on purpose or in earnest, a concept is a word, an area is a crowd."""

MIXED_UP = " were mixed up "
"""Marks the reason for a mix-up among the reasons for a tie."""
SAME_IN_OTHER_WORDS = "says much the same in other words"
SAME_WORDS = "uses many of the same words"
MOST_SHARING = 8
"""A question that more notes answer joins them through its node only, not each with each."""
MAIN_CONCEPTS = 2
"""A note's first concepts are what it is mainly about."""
MOST_SIDES = 3
"""Notes taken for either side of a mix-up; more would be about something wider."""


class Graph(dict[Node, dict[Node, Edge]]):
    """The ties of every node, by node; nodes and ties are in the order in which they were added.

    networkx takes long to load, and what groups or exports asks it for a graph of its own.

    Attributes:
        names: The name of every node.
    """

    def __init__(self) -> None:
        super().__init__()
        self.names: dict[Node, str] = {}

    def add(self, node: Node, name: str) -> dict[Node, Edge]:
        """The ties of a node, which is added if it is not there."""
        if node not in self:
            self[node], self.names[node] = {}, name
        return self[node]


@cache
def concept_key(concept: str) -> str:
    """One spelling of a concept for joining notes: case, British or American, plural, old name.

    Source: own, because the rules of the search decide it.

    >>> concept_key("Hypokalaemia") == concept_key("hypokalemia")
    True
    """
    return " ".join(keys(concept)) or " ".join(concept.casefold().split())


def build_graph(base: Base, neighbours: Neighbours | None = None) -> Graph:
    """The graph of a base, weighted by what the log says.

    Args:
        base: Its notes, blueprint and log give nodes and edges. A question is a node when a note
            answers it, or when its last answer was a miss that no note answers.
        neighbours: Similar notes by path, as (path, similarity in [0, 1]).

    Returns:
        An undirected graph, in which both ends of a tie have the same edge. An edge has `weight`,
        `kind` (area, concept, question, link, shared question, mix-up, similar; several are joined
        by `+` and their weights added) and `why` in words.

    Source: own, because its weights stand for what the doctor did; see the constants.
    """
    graph = Graph()
    for area in base.exam.areas:
        graph.add(("area", area.id), area.name)
    answers = Answers.of(base.attempts)
    misses = answers.counts("question", ~answers.rights)
    held = [attributes(note) for note in base.notes]
    sizes = Counter(node for nodes in held for node in nodes)
    edges = {node: _edge(node, size, _WHY[node[0]]) for node, size in sizes.items()}
    for node, edge in edges.items():
        if node[0] == "question":
            edge["weight"] *= 1 + misses[node[1]] / (misses[node[1]] + 1)
    for note, nodes in zip(base.notes, held, strict=True):
        own: Node = ("note", note.id)
        around = graph.add(own, note.title)
        for node, name in nodes.items():
            around[node] = graph.add(node, name)[own] = edges[node]
    _add_open_misses(graph, base, sizes)
    _add_links(graph, base)
    _add_shared_questions(graph, base)
    for one, other, count, why in mixed_up_notes(base):
        _join(graph, one, other, MIXUP_WEIGHT * count / (count + 1), "mix-up", why)
    _add_similar(graph, base, neighbours or {})
    return graph


_WEIGHTS: dict[str, float] = {
    "area": AREA_WEIGHT,
    "concept": CONCEPT_WEIGHT,
    "question": QUESTION_WEIGHT,
}
_WHY = {"area": "of this area", "concept": "about it", "question": "answers it"}


def _edge(node: Node, size: int, why: str) -> Edge:
    """What ties an area, concept or question to each of the `size` notes that share it."""
    return {"weight": _WEIGHTS[node[0]] / sqrt(size), "kind": node[0], "why": why}


def attributes(note: Note) -> dict[Node, str]:
    """The areas, concepts and questions of a note as nodes, each with its name."""
    found: dict[Node, str] = {("area", area): area for area in note.areas}
    for concept in note.concepts:
        found.setdefault(("concept", concept_key(concept)), concept)
    for question in note.questions:
        found["question", question] = question
    return found


def _add_open_misses(graph: Graph, base: Base, sizes: Counter[Node]) -> None:
    """Tie misses without a note to their area, their concept and the names in their remark."""
    answers = Answers.of(base.attempts)
    noted = {question for note in base.notes for question in note.questions}
    last = answers.latest & ~answers.rights & ~answers.where("question", noted.__contains__)
    names = ("question", "area", "concept", "remark")
    rows = zip(*map(cells_of, map(answers.only(last).column, names)), strict=True)
    for question, area, concept, remark in sorted(rows):
        own: Node = ("question", question)
        ties = graph.add(own, question)
        named = [concept, *(parse_pair(remark) or ())]
        around: list[Node] = [("concept", concept_key(name)) for name in named if name]
        for node in dict.fromkeys([*around, ("area", area)]):
            if node in graph:
                edge = _edge(node, sizes[node] + 1, "missed, no note yet")
                ties[node] = graph[node][own] = edge


def _add_links(graph: Graph, base: Base) -> None:
    by_path = {note.path: note for note in base.notes}
    for note in base.notes:
        for path in dict.fromkeys(link.path for link in note.links):
            other = by_path.get(path)
            if other is not None:
                _join(graph, note, other, LINK_WEIGHT, "link", f"{note.title} links to it")


def _add_shared_questions(graph: Graph, base: Base) -> None:
    sharing: dict[QuestionId, list[Note]] = {}
    for note in base.notes:
        for question in note.questions:
            sharing.setdefault(question, []).append(note)
    for question, notes in sharing.items():
        if len(notes) > MOST_SHARING:
            continue
        weight = QUESTION_WEIGHT / max(1, len(notes) - 1)
        for at, note in enumerate(notes):
            for other in notes[at + 1 :]:
                why = f"both answer {question}"
                _join(graph, note, other, weight, "shared question", why)


def mixed_up_notes(base: Base) -> Iterator[tuple[Note, Note, int, str]]:
    """Notes on either side of each mix-up, with how often it happened and the reason in words."""
    rows = sorted(rank_mixups(base, {}), key=lambda row: (row.one, row.other))
    naming = Naming(base.notes, base.glossary, main=MAIN_CONCEPTS)
    for row in rows:
        one, other = (naming.about(name, row.questions) for name in (row.one, row.other))
        why = f"{row.one} and {row.other}{MIXED_UP}{often(row.count)}"
        for first in [note for note in one if note not in other][:MOST_SIDES]:
            for second in [note for note in other if note not in one][:MOST_SIDES]:
                yield first, second, row.count, why


def _add_similar(graph: Graph, base: Base, neighbours: Neighbours) -> None:
    by_path = {note.path: note for note in base.notes}
    pairs: dict[tuple[str, str], float] = {}
    for note in base.notes:
        for path, similarity in neighbours.get(note.path, ()):
            if path in by_path:
                pair = (note.path, path) if note.path < path else (path, note.path)
                pairs[pair] = max(similarity, pairs.get(pair, 0.0))
    for (first, second), similarity in sorted(pairs.items()):
        weight = SIMILAR_WEIGHT * similarity
        one, other = by_path[first], by_path[second]
        _join(graph, one, other, weight, "similar", _likeness(similarity))


def _likeness(similarity: float) -> str:
    if similarity >= MUCH_THE_SAME:
        return SAME_IN_OTHER_WORDS
    return SAME_WORDS if similarity >= LEAST_TOLD else "some words in common"


def _join(graph: Graph, note: Note, other: Note, weight: float, kind: str, why: str) -> None:
    """Tie two notes; a tie of another kind adds to an existing one."""
    if note.id == other.id:
        return
    first: Node = ("note", note.id)
    second: Node = ("note", other.id)
    edge = graph[first].get(second)
    if edge is None:
        edge = {"weight": weight, "kind": kind, "why": why}
        graph[first][second] = graph[second][first] = edge
        return
    edge["weight"] += weight
    edge["why"] += f"; {why}"
    if kind not in edge["kind"].split("+"):
        edge["kind"] += f"+{kind}"
