"""Carry notes along: one HTML file for a phone without signal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.cli.params import common, open_session, say_problems
from kb.cli.selection_options import choice_of, choosing, size

if TYPE_CHECKING:
    from datetime import date


@click.command(name="carry")
@choosing
@common
@click.pass_context
def command(
    ctx: click.Context,
    /,
    out: Path | None,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
    **asked: Any,  # noqa: ANN401 - what `choosing` added
) -> None:
    """Write one HTML file of notes that needs no network.

    LIST is what to take: all (also when nothing is said), notes NOTE..., brief AREA or WORDS,
    queue, or reread (the notes to reread today). --area and --state narrow it.

    Open it in any browser. Words are found inside, and answers typed into it come out as an
    answer sheet for missbook log sheet. An existing file is replaced.
    """
    from kb.core.wording import counted
    from kb.export.html_bundle import write_carry
    from kb.presentation.render import to_json
    from kb.services.selection import answer_form, file_stem, gather
    from kb.storage.atomic_files import replace_file

    session = open_session(ctx, base_folder, as_of)
    choice = choice_of("all", **asked)
    handout = gather(session, choice)
    say_problems(session)
    raw = write_carry(handout, answer_form(session), session.base.glossary)
    file = out or Path(f"{file_stem(choice, handout.day)}.html")
    replace_file(file, raw, shown=str(file))
    if as_json:
        content = {
            "file": str(file),
            "note_count": len(handout.leaves),
            "byte_count": len(raw),
        }
        click.echo(to_json(content), nl=False)
    else:
        click.echo(f"wrote {file}, {counted(len(handout.leaves), 'note')}, {size(len(raw))}")
