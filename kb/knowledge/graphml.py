"""Graph -> GraphML, the open format in which other programs can show it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import networkx as nx


def format_graphml(graph: nx.Graph) -> str:
    """The graph as GraphML text.

    Node ids are `kind:id`; nodes have `kind` and `name`, edges `weight`, `kind` and `why`.

    Source: brandes2013, as networkx writes it.
    """
    import networkx as nx

    plain = nx.Graph()
    for (kind, name), attributes in graph.nodes(data=True):
        plain.add_node(
            f"{kind}:{_clean(name)}", kind=kind, name=_clean(attributes.get("name", name))
        )
    for one, other, attributes in graph.edges(data=True):
        plain.add_edge(
            ":".join(map(_clean, one)),
            ":".join(map(_clean, other)),
            weight=float(attributes["weight"]),
            kind=attributes["kind"],
            why=_clean(attributes["why"]),
        )
    head = '<?xml version="1.0" encoding="utf-8"?>\n'
    return head + "\n".join(nx.generate_graphml(plain, named_key_ids=True)) + "\n"


def _clean(text: str) -> str:
    """Without the control characters that XML cannot hold."""
    return "".join(letter for letter in text if letter >= " ")
