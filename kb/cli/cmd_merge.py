"""Make two notes that say the same into one, without losing a question."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from kb.cli.params import common, open_session, say_problems
from kb.formats.note_merging import merge_texts
from kb.presentation.render import to_json
from kb.services.note_editing import later_written, merge_notes

if TYPE_CHECKING:
    from datetime import date


@click.command(name="merge")
@click.argument("keep", metavar="KEEP")
@click.argument("other", metavar="OTHER")
@click.option("--dry-run", is_flag=True, help="Only print what KEEP would become.")
@common
@click.pass_context
def command(
    ctx: click.Context,
    keep: str,
    other: str,
    dry_run: bool,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Make two notes that say the same into one.

    KEEP takes in all of OTHER.

    KEEP gets OTHER's questions, concepts, areas and basis, and its text under its title; links to
    OTHER lead to KEEP. OTHER's file is set aside as plain text beside where it was. Name each by
    its title, path or id.
    """
    session = open_session(ctx, base_folder, as_of)
    kept, gone = session.note(keep), session.note(other)
    (kept_text, kept_digest), (gone_text, gone_digest) = session.text(kept), session.text(gone)
    say_problems(session)
    if dry_run:
        written = later_written(kept, gone, session.now)
        click.echo(merge_texts(kept_text, kept.path, gone_text, gone.path, written), nl=False)
        return
    aside = merge_notes(session, kept, gone, kept_digest, gone_digest)
    merged = next(note for note in session.whole.notes if note.path == kept.path)
    if as_json:
        told = {"path": merged.path, "questions": list(merged.questions), "set_aside": aside}
        click.echo(to_json(told), nl=False)
        return
    count = len(merged.questions)
    click.echo(f"{merged.path} now answers {count} question{'' if count == 1 else 's'}.")
    click.echo(f"The other text is kept in {aside};")
    click.echo("delete it when you have read the merged note.")
