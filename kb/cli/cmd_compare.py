"""Write one note that compares two diagnoses you mix up."""

import click

from kb.cli.call import Call, with_call
from kb.cli.params import edited, say
from kb.cli.patient_check import check_no_patient, no_patient_option
from kb.core.errors import likely_slip
from kb.core.lookup import concept_names, spelt
from kb.core.wording import counted
from kb.services.comparison import begin, compare, write


@click.command(name="compare")
@click.argument("one")
@click.argument("other")
@click.option("--text", metavar="TEXT", help="The note's text; without it your editor opens.")
@click.option(
    "--area", default="", metavar="AREA", help="Its area. Default: that of its questions."
)
@click.option("--basis", default="", metavar="TEXT", help="Where you checked the facts.")
@click.option("--draft", is_flag=True, help="Only print what the note would begin with.")
@no_patient_option
@with_call
def command(
    call: Call,
    one: str,
    other: str,
    text: str | None,
    area: str,
    basis: str,
    draft: bool,
    no_patient: bool,
) -> None:
    """Write one note that compares ONE and OTHER.

    It begins with what your notes say about each, and answers every question in which you took one
    for the other. If a note already compares them, you are told which.
    """
    session = call.session
    found = compare(session, one, other)
    there, questions = found.note, found.questions
    if there is not None:
        call.answer(
            {"note": there.id, "path": there.path, "new": False},
            f"Compared already in: {there.title} ({there.path})",
            f"To rewrite it: missbook rewrite {there.id}",
        )
        return
    for name, notes in ((found.one, found.first), (found.other, found.second)):
        if not (notes or found.both or found.mixup):
            # A misspelling, or a topic without a note so far.
            meant = likely_slip(spelt(name), concept_names(session.base.notes))
            say(f"None of your notes mentions {name}{f'; did you mean {meant}?' if meant else '.'}")
    begun = begin(session, found)
    if draft:
        call.answer({"draft": begun}, begun.removesuffix("\n"))
        return
    body = text if text is not None else edited(begun)
    check_no_patient((body or "", basis, one, other), no_patient, begun)
    note = write(session, found, body or "", area, basis)
    answered = f"; it answers {counted(len(questions), 'question')}" if questions else ""
    call.answer(
        {"note": note.id, "path": note.path, "new": True}, f"Written: {note.path}{answered}"
    )
    if not basis:
        say("It has no basis yet: add where you checked the facts, under 'basis:'.")
