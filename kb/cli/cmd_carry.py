"""Carry notes along: one HTML file for a phone without signal."""

from typing import Any

import click

from kb.cli.call import Call, with_call
from kb.cli.output_file import Target, writes
from kb.cli.selection_options import choosing, chosen_notes


@click.command(name="carry")
@choosing
@writes(".html", ".htm", default="named after the list")
@with_call
def command(
    call: Call,
    /,
    target: Target,
    **asked: Any,  # noqa: ANN401 - what `choosing` added
) -> None:
    """Write one HTML file of notes that needs no network.

    LIST is what to take: all (the default), notes NOTE..., brief AREA or WORDS,
    queue, or reread (today's notes to reread). --area and --state narrow it.

    It opens in any browser and can be searched. Answers typed into it come out as an answer sheet
    for missbook log sheet.
    """
    from kb.core.wording import counted
    from kb.export.html_bundle import write_carry
    from kb.services.selection import answer_form

    handout, stem = chosen_notes(call, "all", asked)
    output = target.or_usual(f"{stem}.html")
    raw = write_carry(handout, answer_form(call.session), call.session.base.glossary)
    output.write(raw)
    count = len(handout.leaves)
    call.answer(
        {"file": str(output.file), "note_count": count, "byte_count": len(raw)},
        f"Written: {output.file}, {counted(count, 'note')}",
    )
