"""Print notes: a PDF of the notes to reread, a brief, the queue, an area or single notes."""

import click

from kb.cli.call import Call
from kb.cli.params import Whole
from kb.cli.selection_options import hands_out
from kb.core.wording import counted
from kb.export.handout import Handout
from kb.services.user_files import Output

LINES = "Lines to write on under each note."


@click.command(name="print")
@click.option("--lines", "line_count", type=Whole(0, 20), default=0, metavar="N", help=LINES)
@hands_out("reread", ".pdf")
def command(call: Call, handout: Handout, output: Output, line_count: int) -> None:
    """Make a PDF of notes, to read away from screens.

    LIST is what to print: reread (today's notes to reread; the default), brief AREA or WORDS,
    queue, notes NOTE..., or all. --area alone prints the notes of that area. Pages are A4, in two
    columns.
    """
    from kb.export.pdf import write_pdf

    printed = write_pdf(handout, line_count)
    output.write(printed.raw)
    notes, pages, byte_count = len(handout.leaves), printed.page_count, len(printed.raw)
    call.answer(
        {
            "file": str(output.file),
            "note_count": notes,
            "page_count": pages,
            "byte_count": byte_count,
        },
        f"Written: {output.file}, {counted(notes, 'note')}, {counted(pages, 'page')}",
    )
