"""Log an answer sheet."""

from __future__ import annotations

import sys
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.cli.logged import log_and_show
from kb.cli.params import DAY, common, interactive, open_session, say, width
from kb.cli.rejected_lines import keep_beside, none_taken
from kb.cli.report_command import show
from kb.core.wording import counted
from kb.formats.answer_sheet import Sheet, format_left, parse_sheet
from kb.importers.sheets import known_names, sheet_drafts
from kb.presentation.import_result import dry_report
from kb.presentation.render import Shown
from kb.services.answer_logging import mark_sheet_logged

if TYPE_CHECKING:
    from kb.services.session import Session

SHOWN_ROWS = 20
LONG_AGO_DAYS = 183
"""A date without a year is the latest such day: one still to come is taken for last year's."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadSheet:
    """A sheet as read: how messages name it, its bytes, what it says, and the day of answers
    without one.
    """

    shown: str
    raw: bytes
    sheet: Sheet
    day: date


@click.command(name="sheet")
@click.argument("file")
@click.option("--day", type=DAY, metavar="DATE", help="The day of answers that have no date.")
@click.option("--dry-run", is_flag=True, help="Show what would be logged; log nothing.")
@click.option("--again", is_flag=True, help="These answers were truly given twice that day.")
@common
@click.pass_context
def command(
    ctx: click.Context,
    file: str,
    day: date | None,
    dry_run: bool,
    again: bool,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Log the answer sheet in FILE.

    When FILE is -, standard input is read.

    A line that is not understood is said, and kept in a file beside the sheet. When none is,
    nothing is logged or kept.
    """
    session = open_session(ctx, base_folder, as_of)
    read = read_sheet(session, file, day, ask=interactive() and not dry_run)
    sheet = read.sheet
    if not sheet.answers:
        if file == "-" and sheet.left and not dry_run:
            # What was piped in is nowhere else.
            keep_beside(session, file, format_left(sheet.left), len(sheet.left))
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
        keep_beside(session, file, format_left(sheet.left), len(sheet.left))
    title, left_count = f"sheet {Path(file).name}", len(sheet.left)
    added = log_and_show(
        session, drafts, title=title, as_json=as_json, left_count=left_count, again=again
    )
    if file != "-":
        mark_sheet_logged(session, Path(file).name, read.raw, read.day, added.batch)


def read_sheet(session: Session, file: str, day: date | None, *, ask: bool) -> ReadSheet:
    """Read a sheet. Answers without a date are of `day`, else of the file's day, or it is asked.

    Raises:
        NotFoundError: There is no such file.
    """
    from kb.importers.table_reader import decoded
    from kb.storage.atomic_files import read_bytes

    shown = "standard input" if file == "-" else file
    if file == "-":
        raw, of_file = sys.stdin.buffer.read(), session.today
    else:
        raw = read_bytes(Path(file), file)
        modified = datetime.fromtimestamp(Path(file).stat().st_mtime, session.now.tzinfo)
        of_file = session.as_of or min(modified.date(), session.today)
    text, encoding = decoded(raw, shown)
    if encoding != "UTF-8":
        say(f"Read as {encoding}.")
    own = day or of_file
    known = known_names(session.exam, session.study, own, session.today)
    sheet = parse_sheet(text, shown, known)
    if sheet.undated_count and day is None:
        own = _asked(sheet.undated_count, own, ask and file != "-")
    return ReadSheet(shown=shown, raw=raw, sheet=sheet, day=own)


def _asked(count: int, own: date, ask: bool) -> date:
    what = f"No heading dates {counted(count, 'answer')}"
    if ask:
        default = own.isoformat()
        answer: date = click.prompt(f"{what}. Which day?", default=default, type=DAY, err=True)
        return answer
    say(f"{what}: taken as {own.isoformat()}; --day DATE says otherwise")
    return own
