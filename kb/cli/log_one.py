"""Log the answer to one question."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import click

from kb.cli.logged import log_and_show
from kb.cli.params import common, open_session
from kb.cli.rejected_lines import hint_of
from kb.core.errors import QueryError
from kb.formats.answer_sheet import parse_sheet
from kb.importers.sheets import known_names, sheet_drafts
from kb.services.answer_logging import question_reference

if TYPE_CHECKING:
    from datetime import date


@click.command(name="one")
@click.argument("question")
@click.argument("marks", nargs=-1, metavar="[CODES]...")
@click.option("--area", default="", metavar="AREA", help="Its area. Default: from study.yaml.")
@click.option("--repeat", "again", is_flag=True, help="Log it again: done twice that day.")
@click.option("--no-patient", is_flag=True, help="What looks like a patient's details is not.")
@common
@click.pass_context
def command(
    ctx: click.Context,
    question: str,
    marks: tuple[str, ...],
    area: str,
    again: bool,
    no_patient: bool,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Log one answer, with codes as on an answer sheet.

    Such as: missbook log one north:1041 x "C>B" gout vs pseudogout
    """
    session = open_session(ctx, base_folder, as_of)
    reference = question_reference(session, question)
    known = known_names(session.exam, session.study, session.today, no_patient=no_patient)
    known = replace(known, sources=(*known.sources, reference.partition(":")[0]))
    heading = f"{session.exam.area(area).id}\n" if area else ""
    sheet = parse_sheet(f"{heading}{reference} {' '.join(marks)}", "one", known)
    if sheet.problems:
        first = sheet.problems[0]
        hint = f"{first.hint}{hint_of(sheet.problems)}"
        raise QueryError(first.message.removeprefix("not understood: "), hint=hint)
    drafts = sheet_drafts(sheet.answers, session.study, session.now)
    log_and_show(session, drafts, title=f"one {reference}", as_json=as_json, again=again)
