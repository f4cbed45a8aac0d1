"""Write the concept graph in an open format, to look at it elsewhere."""

from __future__ import annotations

from pathlib import Path

import click

from kb.cli.call import Call, with_call
from kb.knowledge import build_graph, format_graphml

NEIGHBOUR_COUNT = 5


@click.command(name="graph")
@click.option(
    "--out",
    "file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="The file to write. Default: print it.",
)
@with_call
def command(call: Call, file: Path | None) -> None:
    """Export notes and how they are linked as GraphML.

    GraphML is an open XML format that drawing and analysis programs read. An existing FILE is
    replaced.
    """
    from kb.services.user_files import write_file

    session = call.session
    graph = build_graph(session.base, session.index.neighbours(NEIGHBOUR_COUNT))
    call.say_problems()
    text = format_graphml(graph)
    if file is not None:
        write_file(file, text.encode())
    nodes, edges = len(graph), graph.number_of_edges()
    content = {"nodes": nodes, "edges": edges, "file": str(file) if file else None}
    call.answer(content, f"{file}: {nodes} nodes, {edges} edges." if file else text.rstrip("\n"))
