"""Log an answer sheet."""

from __future__ import annotations

import sys
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.cli.params import common, open_session, say
from kb.cli.taking import take
from kb.intake.sheets import known_names, sheet_drafts
from kb.text.sheet import Sheet, parse_sheet

if TYPE_CHECKING:
    from kb.session import Session


@click.command(name="sheet")
@click.argument("file")
@click.option("--dry-run", is_flag=True, help="Show what would be logged; log nothing.")
@click.option("--again", is_flag=True, help="These answers were truly given twice that day.")
@common
@click.pass_context
def command(
    ctx: click.Context,
    file: str,
    dry_run: bool,
    again: bool,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Log the answer sheet FILE, or standard input when FILE is -.

    A line that is not understood is said, and kept in a file beside the sheet.
    """
    session = open_session(ctx, base_folder, as_of)
    text, day = read_sheet(session, file)
    known = known_names(session.exam, session.study, day)
    sheet = parse_sheet(text, "standard input" if file == "-" else file, known)
    for problem in sheet.problems:
        say(str(problem))
    if dry_run:
        for answer in sheet.answers:
            click.echo(f"{answer.heading.day} {answer.question} {answer.outcome} {answer.remark}")
        click.echo(f"{len(sheet.answers)} answers would be logged; nothing was.")
        return
    keep_left(session, file, sheet)
    drafts = sheet_drafts(sheet.answers, session.study, session.now)
    title = f"sheet {Path(file).name}"
    left_count = len(sheet.left)
    take(session, drafts, title=title, as_json=as_json, left_count=left_count, again=again)


def read_sheet(session: Session, file: str) -> tuple[str, date]:
    """The text of a sheet and the day that holds where no heading gives one: that of the file.

    Raises:
        NotFoundError: There is no such file.
    """
    from kb.catalogue import decode
    from kb.files import read_bytes

    if file == "-":
        return sys.stdin.read(), session.today
    path = Path(file)
    text, problems = decode(read_bytes(path, file), file)
    for problem in problems:
        say(str(problem))
    modified = datetime.fromtimestamp(path.stat().st_mtime, session.now.tzinfo).date()
    return text, min(modified, session.today)


def keep_left(session: Session, file: str, sheet: Sheet) -> None:
    """Write the lines that were not understood to a file of their own, so that none is lost."""
    if not sheet.left:
        return
    text = "".join(f"{line}\n" for _, line in dict(sheet.left).items())
    if file == "-":
        name = session.keep_aside(text)
    else:
        from kb.files import replace_file

        path = Path(file)
        target = path.with_name(f"{path.stem}-not-understood.txt")
        name = str(target)
        replace_file(target, text.encode(), shown=name)
    kept = "1 line is" if len(sheet.left) == 1 else f"{len(sheet.left)} lines are"
    say(f"{kept} kept in {name}")
