"""An answer sheet read from a file or from standard input."""

import sys
from datetime import date
from typing import NamedTuple

from kb.cli.logged import ask_day, day_of
from kb.cli.params import say
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
        raw, of_file = read_file(file), day_of(session, file)
    text, encoding = decoded(raw, shown)
    if encoding != "UTF-8":
        say(f"Read as {encoding}.")
    own = day or of_file
    known = known_words(session.exam, session.study, own, session.today, no_patient=no_patient)
    sheet = parse_sheet(text, shown, known)
    if sheet.undated_count and day is None:
        what = f"No heading dates {counted(sheet.undated_count, 'answer')}"
        if ask and file != "-":
            own = ask_day(what, own)
        else:
            say(f"{what}: logged on {own.isoformat()}; for another day: --day DATE")
    return ReadSheet(shown, raw, sheet, own)
