"""An answer sheet read from a file or from standard input."""

import sys
from datetime import date, datetime
from pathlib import Path
from typing import NamedTuple

import click

from kb.cli.params import DAY, say
from kb.core.wording import counted
from kb.formats.answer_sheet.parser import parse_sheet
from kb.formats.answer_sheet.records import Sheet
from kb.importers.sheets import known_words
from kb.services.session import Session


class ReadSheet(NamedTuple):
    """A sheet as read: how messages name it, its bytes, what it says, and the day of answers
    without one.
    """

    shown: str
    raw: bytes
    sheet: Sheet
    day: date


def read_sheet(
    session: Session, file: str, day: date | None, *, ask: bool, no_patient: bool = False
) -> ReadSheet:
    """Read a sheet. Answers without a date are of `day`, else of the file's day, or it is asked.

    Raises:
        NotFoundError: There is no such file.
    """
    from kb.importers.table_reader import decoded
    from kb.services.user_files import read_file

    shown = "standard input" if file == "-" else file
    if file == "-":
        raw, of_file = sys.stdin.buffer.read(), session.today
    else:
        raw = read_file(file)
        modified = datetime.fromtimestamp(Path(file).stat().st_mtime, session.now.tzinfo)
        of_file = session.as_of or min(modified.date(), session.today)
    text, encoding = decoded(raw, shown)
    if encoding != "UTF-8":
        say(f"Read as {encoding}.")
    own = day or of_file
    known = known_words(session.exam, session.study, own, session.today, no_patient=no_patient)
    sheet = parse_sheet(text, shown, known)
    if sheet.undated_count and day is None:
        own = _asked(sheet.undated_count, own, ask and file != "-")
    return ReadSheet(shown, raw, sheet, own)


def _asked(count: int, own: date, ask: bool) -> date:
    what = f"No heading dates {counted(count, 'answer')}"
    if ask:
        default = own.isoformat()
        answer: date = click.prompt(f"{what}. Which day?", default=default, type=DAY, err=True)
        return answer
    say(f"{what}: logged on {own.isoformat()}; for another day: --day DATE")
    return own
