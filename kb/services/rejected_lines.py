"""Lines that were not understood are kept in a file beside the one they came from."""

import re
from collections.abc import Sequence
from itertools import count as numbers
from pathlib import Path

from kb.core.errors import ConflictError, FormatError, Place, Problem
from kb.services.session import Session
from kb.storage import attempt_store
from kb.storage.atomic_files import locked, read_bytes, replace_file

KEPT = re.compile(r"-not-understood(?:-\d+)?$")
"""What the names of kept files end in, before their suffix."""


def none_understood(file: str, count: int, problems: Sequence[Problem]) -> FormatError:
    """The error when nothing of a file can be logged: it is empty, or none of its `count` lines is
    understood. Nothing is kept beside it then: the file itself is all there is to correct.
    """
    if not count:
        return FormatError("there are no answers in it; nothing was logged", place=Place(file))
    lines = "its one line was not" if count == 1 else f"none of its {count} lines was"
    first = problems[0]
    why = f"{first.message}; {first.hint}" if first.hint else first.message
    hint = f"line {first.place.line}: {why}" if first.place.line else why
    return FormatError(f"{lines} understood; nothing was logged", place=Place(file), hint=hint)


def keep_beside(session: Session, file: str, text: str) -> str:
    """Keep `text` beside `file`; returns the path: the first of NAME-not-understood,
    NAME-not-understood-2, ... that is free or that holds the very same lines.

    Raises:
        KBError: The folder cannot be written.
    """
    source, raw = Path(file), text.encode()
    suffix = source.suffix if source.suffix.casefold() in (".txt", ".md", ".csv") else ".csv"
    stem = KEPT.sub("", source.stem) + "-not-understood"
    with locked(session.root / attempt_store.LOG):
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
