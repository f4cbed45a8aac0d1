"""Print notes: a PDF of the notes to reread, a brief, the queue, an area or single notes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.cli.params import Whole, common, open_session, say_problems
from kb.cli.selection_options import choice_of, choosing, size

if TYPE_CHECKING:
    from datetime import date


@click.command(name="print")
@choosing
@click.option(
    "--lines",
    "line_count",
    type=Whole(0, 20),
    default=0,
    metavar="N",
    help="Lines to write on under each note.",
)
@common
@click.pass_context
def command(
    ctx: click.Context,
    /,
    line_count: int,
    out: Path | None,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
    **asked: Any,  # noqa: ANN401 - what `choosing` added
) -> None:
    """Make a PDF of notes, to read away from screens.

    LIST is what to print: reread (the notes to reread today, and what is printed when
    nothing is said), brief AREA or WORDS, queue, notes NOTE..., or all. With --area alone: the
    notes of that area.

    A4 in two columns, small. An existing file is replaced.
    """
    from kb.core.wording import counted
    from kb.export.pdf import write_pdf
    from kb.presentation.render import to_json
    from kb.services.selection import file_stem, gather
    from kb.storage.atomic_files import replace_file

    session = open_session(ctx, base_folder, as_of)
    choice = choice_of("reread", **asked)
    handout = gather(session, choice)
    say_problems(session)
    printed = write_pdf(handout, line_count)
    file = out or Path(f"{file_stem(choice, handout.day)}.pdf")
    replace_file(file, printed.raw, shown=str(file))
    if as_json:
        content = {
            "file": str(file),
            "note_count": len(handout.leaves),
            "page_count": printed.page_count,
            "byte_count": len(printed.raw),
        }
        click.echo(to_json(content), nl=False)
        return
    notes, pages = counted(len(handout.leaves), "note"), counted(printed.page_count, "page")
    click.echo(f"wrote {file}, {notes}, {pages}, {size(len(printed.raw))}")
