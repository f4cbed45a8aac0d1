"""Print notes: a PDF of the notes to reread, a brief, the queue, an area or single notes."""

from typing import Any

import click

from kb.cli.call import Call, with_call
from kb.cli.output_file import Target, writes
from kb.cli.params import Whole
from kb.cli.selection_options import choosing, chosen_notes


@click.command(name="print")
@choosing
@writes(".pdf", default="named after the list")
@click.option(
    "--lines",
    "line_count",
    type=Whole(0, 20),
    default=0,
    metavar="N",
    help="Lines to write on under each note.",
)
@with_call
def command(
    call: Call,
    /,
    line_count: int,
    target: Target,
    **asked: Any,  # noqa: ANN401 - what `choosing` added
) -> None:
    """Make a PDF of notes, to read away from screens.

    LIST is what to print: reread (today's notes to reread; the default), brief AREA or WORDS,
    queue, notes NOTE..., or all. --area alone prints the notes of that area. Pages are A4, in two
    columns.
    """
    from kb.core.wording import counted
    from kb.export.pdf import write_pdf

    handout, stem = chosen_notes(call, "reread", asked)
    output = target.or_usual(f"{stem}.pdf")
    printed = write_pdf(handout, line_count)
    output.write(printed.raw)
    count = len(handout.leaves)
    notes, pages = counted(count, "note"), counted(printed.page_count, "page")
    call.answer(
        {
            "file": str(output.file),
            "note_count": count,
            "page_count": printed.page_count,
            "byte_count": len(printed.raw),
        },
        f"Written: {output.file}, {notes}, {pages}",
    )
