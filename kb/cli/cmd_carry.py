"""Carry notes along: one HTML file for a phone without signal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from kb.cli.call import Call, with_call
from kb.cli.selection_options import choosing, chosen_notes, size

if TYPE_CHECKING:
    from pathlib import Path


@click.command(name="carry")
@choosing
@with_call
def command(
    call: Call,
    /,
    out: Path | None,
    **asked: Any,  # noqa: ANN401 - what `choosing` added
) -> None:
    """Write one HTML file of notes that needs no network.

    LIST is what to take: all (the default), notes NOTE..., brief AREA or WORDS,
    queue, or reread (the notes to reread today). --area and --state narrow it.

    Open it in any browser. Words are found inside, and answers typed into it come out as an
    answer sheet for missbook log sheet. An existing file is replaced.
    """
    from kb.core.wording import counted
    from kb.export.html_bundle import write_carry
    from kb.services.selection import answer_form
    from kb.services.user_files import write_file

    handout, file = chosen_notes(call, "all", asked, out, ".html")
    raw = write_carry(handout, answer_form(call.session), call.session.base.glossary)
    write_file(file, raw)
    count = len(handout.leaves)
    call.answer(
        {"file": str(file), "note_count": count, "byte_count": len(raw)},
        f"wrote {file}, {counted(count, 'note')}, {size(len(raw))}",
    )
