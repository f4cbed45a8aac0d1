"""Lines that were not understood are kept in a file beside the one they came from."""

from __future__ import annotations

import re
from itertools import count as numbers
from pathlib import Path
from typing import TYPE_CHECKING

from kb.cli.params import say
from kb.core.errors import ConflictError, FormatError, KBError, Place
from kb.services.answer_logging import keep_rejected

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kb.core.errors import Problem
    from kb.services.session import Session

KEPT = re.compile(r"-not-understood(?:-\d+)?$")
"""What the names of kept files end in, before their suffix."""


def none_taken(file: str, count: int, what: str, problems: Sequence[Problem]) -> FormatError:
    """The error when nothing of a file can be logged: it is empty, or nothing in it is understood.

    Nothing is kept beside it then: the file itself is all there is to correct.

    Args:
        file: How messages name it.
        count: Lines that were not understood.
        what: What it holds none of, such as `answers`.
        problems: Why they were not; the first is shown.
    """
    if not count:
        return FormatError(f"there are no {what} in it; nothing was logged", place=Place(file))
    lines = "its one line was not" if count == 1 else f"none of its {count} lines was"
    first = problems[0]
    why = f"{first.message}; {first.hint}" if first.hint else first.message
    hint = f"line {first.place.line}: {why}" if first.place.line else why
    return FormatError(f"{lines} understood; nothing was logged", place=Place(file), hint=hint)


def hint_of(problems: Sequence[Problem]) -> str:
    """What else can be done about lines kept because they may identify a patient."""
    doubted = any(problem.code == "patient-identifier" for problem in problems)
    return "; if it identifies nobody, log it with --no-patient" if doubted else ""


def keep_beside(session: Session, file: str, text: str, count: int) -> None:
    """Keep `text` in a new file beside `file`, in the log's folder if that cannot be written or
    for `-`. A file that is there already is never changed.
    """
    from kb.storage.atomic_files import locked
    from kb.storage.attempt_store import LOG

    name = ""
    if file != "-":
        try:
            with locked(session.root / LOG):
                name = _new_file(Path(file), text.encode())
        except KBError as error:
            say(str(error))
    if not name:
        name = keep_rejected(session, text)
    kept = "1 line is" if count == 1 else f"{count} lines are"
    say(f"{kept} kept in {name}")


def _new_file(source: Path, raw: bytes) -> str:
    """Write the first of NAME-not-understood, NAME-not-understood-2, ... that is free or that
    holds the very same lines.
    """
    from kb.storage.atomic_files import read_bytes, replace_file

    suffix = source.suffix if source.suffix.casefold() in (".txt", ".md", ".csv") else ".csv"
    stem = KEPT.sub("", source.stem) + "-not-understood"
    for number in numbers(1):
        target = source.with_name(f"{stem}{'' if number == 1 else f'-{number}'}{suffix}")
        if target.is_dir():
            continue
        try:
            replace_file(target, raw, shown=str(target), expected="")
        except ConflictError:
            if read_bytes(target, str(target)) != raw:
                continue
        return str(target)
    return ""
