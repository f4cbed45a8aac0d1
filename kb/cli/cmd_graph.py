"""Write the concept graph in an open format, to look at it elsewhere."""

import click

from kb.cli.call import Call, with_call
from kb.cli.output_file import Target, writes
from kb.knowledge import build_graph, format_graphml


@click.command(name="graph")
@writes(".graphml", ".xml", default="print it")
@with_call
def command(call: Call, target: Target) -> None:
    """Export notes and how they are linked as GraphML.

    GraphML is an open XML format that drawing and analysis programs read.
    """
    session = call.session
    graph = build_graph(session.base, session.index.neighbours())
    call.say_problems()
    text = format_graphml(graph)
    file = target.named.file if target.named else None
    if target.named:
        target.named.write(text.encode())
    nodes, edges = len(graph), sum(map(len, graph.values())) // 2
    content = {"nodes": nodes, "edges": edges, "file": str(file) if file else None}
    call.answer(content, f"{file}: {nodes} nodes, {edges} edges." if file else text.rstrip("\n"))
