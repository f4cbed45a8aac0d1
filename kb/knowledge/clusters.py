"""Notes grouped by their ties, and the order that links ask for."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import networkx as nx

    from kb.knowledge.graph_builder import Graph, Node

SEED = 20
"""Fixed, so that the same base gives the same groups; any number would do."""


def find_groups(graph: Graph, members: Iterable[Node]) -> tuple[tuple[Node, ...], ...]:
    """Members grouped by how closely they are tied, in the order of their first member.

    Members are tied directly and through the concepts and questions they share, but not through
    areas or notes that are not members. A member without a tie is a group of its own.
    Same graph, same groups.

    Source: blondel2008, with networkx's own implementation and a fixed seed.
    """
    import networkx as nx

    inside = list(dict.fromkeys(member for member in members if member in graph))
    own = set(inside)
    around = (node for member in inside for node in graph[member])
    met: Counter[Node] = Counter(node for node in around if node[0] not in ("area", "note"))
    wanted = [*inside, *(node for node, count in met.items() if count > 1)]
    numbers = {node: number for number, node in enumerate(wanted)}
    # Whole numbers as nodes: sets of them are walked in one order on every run.
    small = nx.Graph()
    small.add_nodes_from(range(len(numbers)))
    for node, number in numbers.items():
        for other, edge in graph[node].items():
            if other in numbers and numbers[other] > number:
                small.add_edge(number, numbers[other], weight=edge["weight"])
    parts = nx.community.louvain_communities(small, weight="weight", seed=SEED)
    groups = [[number for number in sorted(part) if wanted[number] in own] for part in parts]
    groups = _join_singles(small, sorted(group for group in groups if group), len(inside))
    return tuple(tuple(wanted[number] for number in group) for group in groups)


def _join_singles(small: nx.Graph, groups: list[list[int]], count: int) -> list[list[int]]:
    """Let a member that was left alone with its concepts join the group it is tied to most.

    Members are numbered below `count`, what they share from there on.
    """
    home = {number: at for at, group in enumerate(groups) for number in group}
    for group in [group for group in groups if len(group) == 1]:
        own, at = group[0], home[group[0]]
        if len(groups[at]) > 1:
            continue
        ties: dict[int, float] = {}
        for node, edge in small[own].items():
            far = {node: edge} if node < count else small[node]
            for other, second in far.items():
                if other != own:
                    weight = min(edge["weight"], second["weight"])
                    ties[home[other]] = ties.get(home[other], 0.0) + weight
        if ties:
            best = min(ties, key=lambda place: (-round(ties[place], 12), place))
            groups[best].append(own)
            groups[at] = []
            home[own] = best
    return sorted(sorted(group) for group in groups if group)


def order_by_links(
    links: Mapping[str, Iterable[str]], first_key: Mapping[str, tuple[float, str]]
) -> tuple[str, ...]:
    """Names in an order that puts what a note links to before the note itself.

    Args:
        links: For every name those it leans on; names not in it are passed over.
        first_key: Smallest first wherever links leave the choice; one for every name. What
            leads to a name is as urgent as the name.

    Links in a circle leave the choice open among the notes of the circle.

    Source: own, because nobody published an order for notes; sorting is networkx's.
    """
    import networkx as nx

    graph = nx.DiGraph()
    graph.add_nodes_from(links)
    for name, others in links.items():
        graph.add_edges_from((other, name) for other in others if other in links and other != name)
    whole = nx.condensation(graph)
    members = {
        part: sorted(whole.nodes[part]["members"], key=lambda name: first_key[name])
        for part in whole
    }
    own = {part: first_key[members[part][0]] for part in whole}
    urgent = dict(own)
    for part in reversed(list(nx.topological_sort(whole))):
        urgent[part] = min([own[part], *(urgent[after] for after in whole.successors(part))])
    order = nx.lexicographical_topological_sort(whole, key=lambda part: (urgent[part], own[part]))
    return tuple(name for part in order for name in members[part])
