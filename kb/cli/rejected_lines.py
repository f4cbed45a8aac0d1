"""Lines that were not understood are kept in a file beside the one they came from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from kb.cli.params import say
from kb.core.errors import FormatError, KBError, Place
from kb.services.answer_logging import keep_rejected

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kb.core.errors import Problem
    from kb.services.session import Session

KEPT = "-not-understood"


def none_taken(file: str, count: int, what: str, problems: Sequence[Problem]) -> FormatError:
    """Why nothing of a file is taken: it is empty, or nothing of it is understood.

    Nothing is kept beside it then: the file itself is all there is to mend.

    Args:
        file: How messages name it.
        count: Lines that were not understood.
        what: What it holds none of, such as `answers`.
        problems: Why they were not; the first is told.
    """
    if not count:
        return FormatError(f"there are no {what} in it; nothing was logged", place=Place(file))
    lines = "its one line was not" if count == 1 else f"none of its {count} lines was"
    first = problems[0]
    why = f"{first.message}; {first.hint}" if first.hint else first.message
    hint = f"line {first.place.line}: {why}" if first.place.line else why
    return FormatError(f"{lines} understood; nothing was logged", place=Place(file), hint=hint)


def keep_beside(session: Session, file: str, text: str, count: int) -> None:
    """Keep `text` beside `file` (in the log's folder if that cannot be written, or for `-`)."""
    from kb.storage.atomic_files import replace_file

    name = ""
    if file != "-":
        path = Path(file)
        suffix = path.suffix if path.suffix.casefold() in (".txt", ".md", ".csv") else ".csv"
        target = path.with_name(f"{path.stem.removesuffix(KEPT)}{KEPT}{suffix}")
        try:
            replace_file(target, text.encode(), shown=str(target))
            name = str(target)
        except KBError as error:
            say(str(error))
    if not name:
        name = keep_rejected(session, text)
    kept = "1 line is" if count == 1 else f"{count} lines are"
    say(f"{kept} kept in {name}")
