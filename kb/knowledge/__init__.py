"""The concept graph: areas, concepts, notes and questions, and what is near to what.

Built in memory from a base and never stored. Only this package knows networkx, which is imported
on use: `graph_builder` makes the graph, `pagerank` finds what is near, `clusters` what hangs
together, `graphml` writes it for other programs.
"""

from kb.knowledge.clusters import find_groups, order_by_links
from kb.knowledge.companions import Companion, companions
from kb.knowledge.graph_builder import Graph, Node, build_graph, concept_key
from kb.knowledge.graphml import format_graphml
from kb.knowledge.pagerank import Near, near_area, near_note, nearness, suggest_links

__all__ = [
    "Companion",
    "Graph",
    "Near",
    "Node",
    "build_graph",
    "companions",
    "concept_key",
    "find_groups",
    "format_graphml",
    "near_area",
    "near_note",
    "nearness",
    "order_by_links",
    "suggest_links",
]
