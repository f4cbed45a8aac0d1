"""Rewrite a note that failed: open it in the editor, or give its new text."""

import click

from kb.cli.call import Call, with_call
from kb.cli.params import edited
from kb.cli.patient_check import check_no_patient, no_patient_option
from kb.core.errors import KBError
from kb.formats.frontmatter import split
from kb.services.note_editing import rewrite_note


@click.command(name="rewrite")
@click.argument("note")
@click.option("--text", metavar="TEXT", help="The new text; without it your editor opens.")
@click.option("--stamp", is_flag=True, help="I rewrote it in another editor: judge it from now.")
@no_patient_option
@with_call
def command(call: Call, note: str, text: str | None, stamp: bool, no_patient: bool) -> None:
    """Rewrite a note, and judge it afresh from now on.

    Name NOTE by its title, path or id.

    Its links and every line of its front matter stay; `written` becomes this moment.
    """
    session = call.session
    found = session.note(note)
    whole, digest = session.text(found)
    old = split(whole, found.path)[0].body
    body: str | None = None
    if not stamp:
        body = text if text is not None else edited(old)
        if body is None or body.strip() == old.strip():
            raise KBError("nothing was changed, so the note is as it was")
        if not body.strip():
            raise KBError("an empty note was not written", hint="give it a line of your own")
        check_no_patient((body,), no_patient, whole)
    rewrite_note(session, found, body, digest)
    call.answer(
        {"note": found.id, "path": found.path},
        f"Rewritten: {found.path}; untested until its questions are tried again.",
    )
