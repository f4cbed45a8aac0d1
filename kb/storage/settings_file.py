"""Edit study.yaml where it lies: one change, under the lock, all else untouched."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.core.errors import FormatError
from kb.storage import atomic_files
from kb.storage.attempt_store import LOG
from kb.storage.base_folder import STUDY
from kb.storage.note_catalogue import decode

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


def edit_study(root: Path, edit: Callable[[str], str]) -> None:
    """Apply `edit` to the text of study.yaml, under the lock; it is made if there is none.

    Raises:
        ConflictError: The file changed underneath; nothing was written.
        FormatError: It is not UTF-8 and must not be rewritten.
    """
    with atomic_files.locked(root / LOG):
        present = (root / STUDY).is_file()
        raw = atomic_files.read_bytes(root / STUDY, STUDY) if present else b""
        text, problems = decode(raw, STUDY)
        if problems:
            first = problems[0]
            raise FormatError(first.message, place=first.place, hint=first.hint)
        new = edit(text)
        if new != text:
            expected = atomic_files.digest(raw) if present else ""
            atomic_files.replace_file(root / STUDY, new.encode(), shown=STUDY, expected=expected)
