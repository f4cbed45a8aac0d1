"""Graph -> GraphML, the open format in which other programs can show it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from kb.knowledge.graph_builder import Graph


def format_graphml(graph: Graph) -> str:
    """The graph as GraphML text.

    Node ids are `kind:id`; nodes have `kind` and `name`, edges `weight`, `kind` and `why`.

    Source: brandes2013, as networkx writes it.
    """
    import networkx as nx

    plain = nx.Graph()
    ids = {node: ":".join(map(_clean, node)) for node in graph}
    for node, own in ids.items():
        plain.add_node(own, kind=node[0], name=_clean(graph.names[node]))
    for node, around in graph.items():
        for other, edge in around.items():
            plain.add_edge(ids[node], ids[other], **{**edge, "why": _clean(edge["why"])})
    head = '<?xml version="1.0" encoding="utf-8"?>\n'
    return head + "\n".join(nx.generate_graphml(plain, named_key_ids=True)) + "\n"


def _clean(text: str) -> str:
    """Without the control characters that XML cannot hold."""
    return "".join(letter for letter in text if letter >= " ")
