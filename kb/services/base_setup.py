"""A base as a whole: make a new one, pack it into one file, make it again from that."""

from datetime import datetime
from pathlib import Path

from kb.core.errors import KBError
from kb.services.user_files import output
from kb.storage.base_folder import create_base
from kb.storage.base_location import EXAM
from kb.storage.pack import Packed, pack, unpack

__all__ = ["check_no_base", "create_base", "pack_base", "unpack"]


def check_no_base(folder: Path) -> None:
    """Refuse a folder that is a base already.

    Raises:
        KBError: It has an exam.yaml.
    """
    if (folder / EXAM).exists():
        hint = "name another folder, or change the exam.yaml that is there"
        raise KBError(f"{folder} is a base already", hint=hint)


def pack_base(
    root: Path, target: Path | None, now: datetime, *, replace: bool
) -> tuple[Path, Packed]:
    """Write every file of a base into one zip; returns which, and what it holds. Without a `target`
    it is named after the base and the day: in this folder, or beside the base from inside it, since
    a copy within is lost with it.

    Raises:
        ConflictError: A file of that name is there already.
        QueryError: Its name does not end in .zip, or it lies inside a base.
        KBError: A file cannot be read, or the disk refused.
    """
    base = root.resolve()
    folder = base.parent if Path().resolve().is_relative_to(base) else Path()
    file = target or folder / f"{base.name}-{now.date().isoformat()}.zip"
    output(file, (".zip",), replace=replace)
    return file, pack(root, file, now, replace=replace)
