"""The concept graph: areas, concepts, notes and questions, and what is near to what.

Built in memory from a base and never stored. Only this package knows networkx, which is imported
on use: `build` makes the graph, `walk` finds what is near, `groups` finds what hangs together,
`graphml` writes it for other programs.
"""

from kb.knowledge.clusters import find_groups, order_by_links
from kb.knowledge.companions import Companion, companions
from kb.knowledge.graph_builder import Node, build_graph, build_plain, concept_key
from kb.knowledge.graphml import format_graphml
from kb.knowledge.pagerank import Near, near_area, near_note, nearness, suggest_links

__all__ = [
    "Companion",
    "Near",
    "Node",
    "build_graph",
    "build_plain",
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
