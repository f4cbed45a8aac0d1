"""Write the concept graph in an open format, to look at it elsewhere."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.cli.params import common, open_session, say_problems
from kb.knowledge import build_graph, format_graphml
from kb.presentation.render import to_json

if TYPE_CHECKING:
    from datetime import date

NEIGHBOUR_COUNT = 5


@click.command(name="graph")
@click.option(
    "--out",
    "file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="The file to write. Default: print it.",
)
@common
@click.pass_context
def command(
    ctx: click.Context,
    file: Path | None,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Export notes and how they are linked as GraphML.

    GraphML is an open XML format that drawing and analysis programs read. An existing FILE is
    replaced.
    """
    from kb.storage.atomic_files import replace_file

    session = open_session(ctx, base_folder, as_of)
    graph = build_graph(session.base, session.index.neighbours(NEIGHBOUR_COUNT))
    say_problems(session)
    text = format_graphml(graph)
    if file is not None:
        replace_file(file, text.encode(), shown=str(file))
    counts = {"nodes": len(graph), "edges": graph.number_of_edges()}
    if as_json:
        click.echo(to_json({**counts, "file": str(file) if file else None}), nl=False)
    elif file is None:
        click.echo(text, nl=False)
    else:
        click.echo(f"{file}: {counts['nodes']} nodes, {counts['edges']} edges.")
