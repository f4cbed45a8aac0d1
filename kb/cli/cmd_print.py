"""Print notes: a PDF of a reading list, a brief, the queue, an area or single notes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.cli.choosing import choice_of, choosing, size
from kb.cli.params import common, open_session, say_problems

if TYPE_CHECKING:
    from datetime import date

MOMENT = "before a topic"


@click.command(name="print")
@choosing
@click.option(
    "--lines",
    "line_count",
    type=click.IntRange(0, 20),
    default=0,
    metavar="N",
    help="Lines to write on under each note.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="The file to write; else it is named after the list.",
)
@common
@click.pass_context
def command(
    ctx: click.Context,
    which: str | None,
    words: tuple[str, ...],
    area: str | None,
    day: date | None,
    minutes: float | None,
    limit: int | None,
    state: str | None,
    line_count: int,
    out: Path | None,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Make a PDF of notes, to read away from screens.

    LIST is what to print: reading (today's list of the second look, and what is printed when
    nothing is said), brief AREA or WORDS, queue, notes NOTE..., or all. With --area alone: the
    notes of that area.

    A4 in two columns, small. An existing file is replaced.
    """
    from kb.export.pdf import write_pdf
    from kb.files import replace_file
    from kb.gather import file_stem, gather
    from kb.render import to_json
    from kb.wording import counted

    session = open_session(ctx, base_folder, as_of)
    choice = choice_of(
        which, words, "reading", area=area, day=day, minutes=minutes, limit=limit, state=state
    )
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
