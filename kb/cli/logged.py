"""What the ways of logging share: options, kept lines, and the screen that says what was logged."""

from datetime import date, datetime
from pathlib import Path
from typing import Any

import click

from kb.cli.call import Call
from kb.cli.params import DAY, say, say_caution
from kb.core.errors import KBError, QueryError
from kb.core.model import Attempt
from kb.core.wording import counted
from kb.services.answer_logging import import_answers, keep_rejected
from kb.services.rejected_lines import keep_beside
from kb.services.session import Session

day_option = click.option(
    "--day", type=DAY, metavar="DATE", help="The day it was done. Default: today."
)
repeat_option = click.option(
    "--repeat", "again", is_flag=True, help="Log it again: I did this twice that day."
)


def log_and_show(call: Call, drafts: tuple[Attempt, ...], *, title: str, **how: Any) -> str:  # noqa: ANN401
    """Log the drafts as `import_answers` does and show the result; the first batch shows the
    caution. Returns the id of the batch, empty if it added nothing.
    """
    imported = import_answers(call.session, drafts, title=title, **how)
    if replaced := how.get("replaced"):
        say(f"{len(replaced)} of them replace what the log had; taking it back restores those.")
    call.show(imported.report)
    for problem in imported.beyond:
        say(problem)
    if imported.first_ever:
        say_caution()
    return imported.added.batch


def checked_day(session: Session, day: date | None) -> date | None:
    """The day given, which must not be in the future.

    Raises:
        QueryError: It is.
    """
    if day is not None and day > session.today:
        hint = f"today is {session.today.isoformat()}"
        raise QueryError(f"--day: {day.isoformat()} is in the future", hint=hint)
    return day


def day_of(session: Session, file: str | Path) -> date:
    """The day on which a file was last changed, today at the latest."""
    changed = datetime.fromtimestamp(Path(file).stat().st_mtime, session.now.tzinfo)
    return session.as_of or min(changed.date(), session.today)


def ask_day(what: str, usual: date) -> date:
    """The day of what has none, as the person says."""
    default = usual.isoformat()
    day: date = click.prompt(f"{what}. Which day?", default=default, type=DAY, err=True)
    return day


def keep_lines(session: Session, file: str, text: str, count: int) -> None:
    """Keep lines that were not understood beside `file`, or in the log's folder if that cannot be
    written or for `-`, and say where.
    """
    name = ""
    if file != "-":
        try:
            name = keep_beside(session, file, text)
        except KBError as error:
            say(str(error))
    name = name or keep_rejected(session, text)
    say(f"{counted(count, 'line')} {'is' if count == 1 else 'are'} kept in {name}")
