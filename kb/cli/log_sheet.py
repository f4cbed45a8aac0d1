"""Log an answer sheet."""

from datetime import date
from pathlib import Path

import click

from kb.cli.call import Call, with_call
from kb.cli.logged import checked_day, keep_lines, log_and_show, repeat_option
from kb.cli.params import DAY, interactive, say
from kb.cli.patient_check import no_patient_option
from kb.cli.read_sheet import read_sheet
from kb.cli.sheet_folder import log_folder
from kb.formats.answer_sheet.parser import format_left
from kb.importers.sheets import sheet_drafts
from kb.presentation.import_result import dry_report
from kb.services.answer_logging import mark_sheet_logged
from kb.services.rejected_lines import none_understood

SHOWN_ROWS = 20
LONG_AGO_DAYS = 183
"""A date without a year is the latest such day: one in the future is read as last year's."""


@click.command(name="sheet")
@click.argument("file", required=False)
@click.option("--day", type=DAY, metavar="DATE", help="The day of answers that have no date.")
@click.option("--dry-run", is_flag=True, help="Show what would be logged; log nothing.")
@repeat_option
@no_patient_option
@with_call
def command(
    call: Call, file: str | None, day: date | None, dry_run: bool, again: bool, no_patient: bool
) -> None:
    """Log an answer sheet, or every new one in your sheet folder.

    FILE is the sheet; - reads standard input. Without FILE, each new sheet in the folder that
    `sheets:` in study.yaml names is logged once.

    A line that is not understood is reported and kept in a file beside the sheet, and the exit
    status is 1; when none is understood, nothing is logged or kept.
    """
    if file is None:
        call.ctx.exit(1 if log_folder(call, no_patient=no_patient) else 0)
    session = call.session
    day = checked_day(session, day)
    read = read_sheet(session, file, day, ask=interactive() and not dry_run, no_patient=no_patient)
    sheet, left_count = read.sheet, len(read.sheet.left)
    if not sheet.answers:
        if file == "-" and sheet.left and not dry_run:
            # What was piped in is nowhere else.
            keep_lines(session, file, format_left(sheet.left, read.day), left_count)
        raise none_understood(read.shown, left_count, sheet.problems)
    for problem in sheet.problems:
        say(str(problem))
    drafts = sheet_drafts(sheet.answers, session.study, session.now, read.day)
    oldest = min(draft.day for draft in drafts)
    if (session.today - oldest).days > LONG_AGO_DAYS:
        say(f"The oldest of these answers is dated {oldest.isoformat()}: is that right?")
    if dry_run:
        limit = None if call.as_json else SHOWN_ROWS
        call.show(dry_report(session.exam, drafts, left_count, limit))
        return
    if sheet.left:
        keep_lines(session, file, format_left(sheet.left, read.day), left_count)
    title = f"sheet {Path(file).name}"
    batch = log_and_show(call, drafts, title=title, left_count=left_count, again=again)
    if file != "-":
        mark_sheet_logged(session, Path(file).name, read.raw, read.day, batch)
    if left_count:
        call.ctx.exit(1)
