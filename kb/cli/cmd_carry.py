"""Carry notes along: one HTML file for a phone without signal."""

import click

from kb.cli.call import Call
from kb.cli.selection_options import hands_out
from kb.core.wording import counted
from kb.export.handout import Handout
from kb.services.user_files import Output


@click.command(name="carry")
@hands_out("all", ".html", ".htm")
def command(call: Call, handout: Handout, output: Output) -> None:
    """Write one HTML file of notes that needs no network.

    LIST is what to take: all (the default), notes NOTE..., brief AREA or WORDS,
    queue, or reread (today's notes to reread). --area and --state narrow it.

    It opens in any browser and can be searched. Answers typed into it come out as an answer sheet
    for missbook log sheet.
    """
    from kb.export.html_bundle import write_carry
    from kb.services.selection import answer_form

    raw = write_carry(handout, answer_form(call.session), call.session.base.glossary)
    output.write(raw)
    count = len(handout.leaves)
    call.answer(
        {"file": str(output.file), "note_count": count, "byte_count": len(raw)},
        f"Written: {output.file}, {counted(count, 'note')}",
    )
