"""Edit study.yaml where it lies: one change, under the lock, all else untouched."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb import files
from kb.base import STUDY
from kb.catalogue import decode
from kb.errors import FormatError
from kb.logbook import LOG

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


def edit_study(root: Path, edit: Callable[[str], str]) -> None:
    """Apply `edit` to the text of study.yaml, under the lock; it is made if there is none.

    Raises:
        ConflictError: The file changed underneath; nothing was written.
        FormatError: It is not UTF-8 and must not be rewritten.
    """
    with files.locked(root / LOG):
        present = (root / STUDY).is_file()
        raw = files.read_bytes(root / STUDY, STUDY) if present else b""
        text, problems = decode(raw, STUDY)
        if problems:
            first = problems[0]
            raise FormatError(first.message, place=first.place, hint=first.hint)
        new = edit(text)
        if new != text:
            expected = files.digest(raw) if present else ""
            files.replace_file(root / STUDY, new.encode(), shown=STUDY, expected=expected)
