"""A base as a whole: make a new one, pack it into one file, make it again from that."""

from datetime import datetime
from pathlib import Path

from kb.core.errors import KBError
from kb.services.user_files import output
from kb.storage import pack
from kb.storage.base_folder import create_base
from kb.storage.base_location import EXAM
from kb.storage.pack import Packed


def check_no_base(folder: Path) -> None:
    """Refuse a folder that is a base already.

    Raises:
        KBError: It has an exam.yaml.
    """
    if (folder / EXAM).exists():
        hint = "name another folder, or change the exam.yaml that is there"
        raise KBError(f"{folder} is a base already", hint=hint)


def make_base(folder: Path, exam: str, study: str) -> None:
    """Write the settings of a new base; a study.yaml that is there stays.

    Raises:
        ConflictError: There is a base already.
    """
    create_base(folder, exam, study)


def pack_base(
    root: Path, target: Path | None, now: datetime, *, replace: bool
) -> tuple[Path, Packed]:
    """Write every file of a base into one zip; returns which, and what it holds.

    Args:
        root: The base.
        target: The zip, or None for one named after the base and the day: in this folder, or beside
            the base from inside it, since a copy within is lost with it.
        now: The moment, for its name and the list inside.
        replace: Whether a file of that name may be replaced.

    Raises:
        ConflictError: A file of that name is there already.
        QueryError: Its name does not end in .zip, or it lies inside a base.
        KBError: A file cannot be read, or the disk refused.
    """
    base = root.resolve()
    folder = base.parent if Path().resolve().is_relative_to(base) else Path()
    file = target or folder / f"{base.name}-{now.date().isoformat()}.zip"
    output(file, (".zip",), replace=replace)
    return file, pack.pack(root, file, now, replace=replace)


def unpack_base(file: Path, folder: Path) -> Packed:
    """Make a base again from a pack; `folder` is empty or not there yet.

    Raises:
        ConflictError: The folder holds something.
        FormatError: It is no pack, or a file in it is not what its list says; nothing was made.
        KBError: The disk refused; nothing was made.
    """
    return pack.unpack(file, folder)
