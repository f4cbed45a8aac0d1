"""As much of a networkx Graph as building and walking need.

A list of ten notes asks for the ties of a few dozen: loading networkx takes a hundred times longer
than that. Whatever groups, sorts or exports gets the library's own graph.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator

    from kb.knowledge.graph_builder import Node

Edge = dict[str, Any]


class PlainGraph:
    """An undirected graph; nodes and edges keep the order in which they were added."""

    def __init__(self) -> None:
        self.nodes: dict[Node, dict[str, Any]] = {}
        self.adj: dict[Node, dict[Node, Edge]] = {}

    def add_node(self, node: Node, **about: object) -> None:
        """Add a node, or tell more about it."""
        self.nodes.setdefault(node, {}).update(about)
        self.adj.setdefault(node, {})

    def add_edge(self, one: Node, other: Node, **about: object) -> None:
        """Tie two nodes, adding those that are not there; or tell more of their tie."""
        self.add_node(one)
        self.add_node(other)
        edge = self.adj[one].setdefault(other, {})
        edge.update(about)
        self.adj[other][one] = edge

    def get_edge_data(self, one: Node, other: Node) -> Edge | None:
        """What is known of the tie of two nodes; None if there is none."""
        return self.adj.get(one, {}).get(other)

    def number_of_edges(self) -> int:
        """Ties, each counted once."""
        ends = sum(len(around) + (node in around) for node, around in self.adj.items())
        return ends // 2

    def __contains__(self, node: object) -> bool:
        return node in self.adj

    def __getitem__(self, node: Node) -> dict[Node, Edge]:
        return self.adj[node]

    def __iter__(self) -> Iterator[Node]:
        return iter(self.adj)

    def __len__(self) -> int:
        return len(self.adj)
