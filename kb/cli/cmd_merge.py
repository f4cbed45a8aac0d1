"""Merge two notes that say the same, without losing a question."""

import click

from kb.cli.call import Call, with_call
from kb.cli.params import echo
from kb.core.wording import counted
from kb.formats.note_merging import merge_texts
from kb.services.note_editing import later_written, merge_notes


@click.command(name="merge")
@click.argument("keep", metavar="KEEP")
@click.argument("other", metavar="OTHER")
@click.option("--dry-run", is_flag=True, help="Only print what KEEP would become.")
@with_call
def command(call: Call, keep: str, other: str, dry_run: bool) -> None:
    """Merge two notes that say the same.

    KEEP gets OTHER's questions, concepts, areas and basis, and its text under its title; links to
    OTHER then go to KEEP. OTHER's file is renamed to .txt. Name each by
    its title, path or id.
    """
    session = call.session
    kept, gone = session.note(keep), session.note(other)
    (kept_text, kept_digest), (gone_text, gone_digest) = session.text(kept), session.text(gone)
    call.say_problems()
    if dry_run:
        written = later_written(kept, gone, session.now)
        echo(merge_texts(kept_text, kept.path, gone_text, gone.path, written), nl=False)
        return
    aside = merge_notes(session, kept, gone, kept_digest, gone_digest)
    merged = next(note for note in session.whole.notes if note.path == kept.path)
    call.answer(
        {"path": merged.path, "questions": list(merged.questions), "set_aside": aside},
        f"{merged.path} now answers {counted(len(merged.questions), 'question')}.",
        "The other text is kept until you delete it:",
        f"  {aside}",
    )
