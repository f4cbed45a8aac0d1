"""Log an answer sheet."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import click

from kb.cli.logged import log_and_show
from kb.cli.params import DAY, common, interactive, open_session, say, width
from kb.cli.read_sheet import read_sheet
from kb.cli.rejected_lines import keep_beside, none_taken
from kb.cli.report_command import show
from kb.cli.sheet_folder import log_folder
from kb.formats.answer_sheet import format_left
from kb.importers.sheets import sheet_drafts
from kb.presentation.import_result import dry_report
from kb.presentation.render import Shown
from kb.services.answer_logging import mark_sheet_logged

SHOWN_ROWS = 20
LONG_AGO_DAYS = 183
"""A date without a year is the latest such day: one still to come is taken for last year's."""


@click.command(name="sheet")
@click.argument("file", required=False)
@click.option("--day", type=DAY, metavar="DATE", help="The day of answers that have no date.")
@click.option("--dry-run", is_flag=True, help="Show what would be logged; log nothing.")
@click.option("--repeat", "again", is_flag=True, help="Log it again: done twice that day.")
@click.option("--no-patient", is_flag=True, help="What looks like a patient's details is not.")
@common
@click.pass_context
def command(
    ctx: click.Context,
    file: str | None,
    day: date | None,
    dry_run: bool,
    again: bool,
    no_patient: bool,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Log an answer sheet, or every new one in your sheet folder.

    FILE is the sheet; - reads standard input. Without FILE, each new sheet in the folder that
    `sheets:` in study.yaml names is logged once.

    A line that is not understood is reported and kept in a file beside the sheet, and the exit
    status is 1; when none is understood, nothing is logged or kept.
    """
    session = open_session(ctx, base_folder, as_of)
    if file is None:
        ctx.exit(1 if log_folder(session, as_json=as_json, no_patient=no_patient) else 0)
    read = read_sheet(session, file, day, ask=interactive() and not dry_run, no_patient=no_patient)
    sheet = read.sheet
    if not sheet.answers:
        if file == "-" and sheet.left and not dry_run:
            # What was piped in is nowhere else.
            keep_beside(session, file, format_left(sheet.left, read.day), len(sheet.left))
        raise none_taken(read.shown, len(sheet.left), "answers", sheet.problems)
    for problem in sheet.problems:
        say(str(problem))
    drafts = sheet_drafts(sheet.answers, session.study, session.now, read.day)
    oldest = min(draft.day for draft in drafts)
    if (session.today - oldest).days > LONG_AGO_DAYS:
        say(f"The oldest of these answers is of {oldest.isoformat()}: see that no date is a slip.")
    if dry_run:
        report = dry_report(drafts, len(sheet.left), None if as_json else SHOWN_ROWS)
        show(report, session.today, as_json=as_json, shown=Shown(width=width()))
        return
    if sheet.left:
        keep_beside(session, file, format_left(sheet.left, read.day), len(sheet.left))
    title, left_count = f"sheet {Path(file).name}", len(sheet.left)
    added = log_and_show(
        session, drafts, title=title, as_json=as_json, left_count=left_count, again=again
    )
    if file != "-":
        mark_sheet_logged(session, Path(file).name, read.raw, read.day, added.batch)
    if left_count:
        ctx.exit(1)
