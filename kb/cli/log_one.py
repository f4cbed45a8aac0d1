"""Log the answer to one question."""

import re
from dataclasses import replace
from datetime import date

import click

from kb.cli.call import Call, with_call
from kb.cli.logged import checked_day, day_option, log_and_show, repeat_option
from kb.cli.patient_check import no_patient_option
from kb.core.errors import QueryError
from kb.formats.answer_sheet.parser import parse_sheet
from kb.importers.sheets import known_words, sheet_drafts
from kb.services.answer_logging import question_reference

LETTERS_AT_END = re.compile(r"(.*[0-9])([A-Za-z]+)")


@click.command(name="one")
@click.argument("question")
@click.argument("marks", nargs=-1, metavar="[CODES]...")
@click.option("--area", default="", metavar="AREA", help="Its area. Default: from study.yaml.")
@day_option
@repeat_option
@no_patient_option
@with_call
def command(
    call: Call,
    question: str,
    marks: tuple[str, ...],
    area: str,
    day: date | None,
    again: bool,
    no_patient: bool,
) -> None:
    """Log one answer, with codes as on an answer sheet.

    Such as: missbook log one north:1041 x "C>B" gout vs pseudogout
    """
    session = call.session
    reference = question_reference(session, question)
    day = checked_day(session, day) or session.today
    known = known_words(session.exam, session.study, day, session.today, no_patient=no_patient)
    known = replace(known, sources=(*known.sources, reference.partition(":")[0]))
    heading = f"{session.exam.area(area).id}\n" if area else ""
    sheet = parse_sheet(f"{heading}{reference} {' '.join(marks)}", "one", known)
    if sheet.problems:
        first = sheet.problems[0]
        hint = first.hint
        if any(problem.code == "patient-identifier" for problem in sheet.problems):
            hint += "; if it does not identify a patient, log it with --no-patient"
        raise QueryError(first.message.removeprefix("not understood: "), hint=hint)
    drafts = sheet_drafts(sheet.answers, session.study, session.now, day)
    ending = LETTERS_AT_END.fullmatch(reference)
    whole = not marks and drafts[0].question == reference
    if ending and whole and not parse_sheet(f"{ending[1]} {ending[2]}", "one", known).problems:
        raise QueryError(
            f"'{reference}' may be an item of that name, or {ending[1]} with '{ending[2]}'",
            hint=f"write {ending[1]} {ending[2]}, or {reference} right",
        )
    log_and_show(call, drafts, title=f"one {reference}", again=again)
