"""Files that the person names: what is read from one, and what is written to one."""

from __future__ import annotations

from pathlib import Path

from kb.storage import atomic_files


def read_file(file: Path | str, shown: str = "") -> bytes:
    """The bytes of a file, which messages call `shown`, or by its path.

    Raises:
        NotFoundError: There is no such file.
        KBError: It cannot be read.
    """
    return atomic_files.read_bytes(Path(file), shown or str(file))


def write_file(file: Path, raw: bytes) -> None:
    """Write a file; one of that name is replaced.

    Raises:
        KBError: The disk refused.
    """
    atomic_files.replace_file(file, raw, shown=str(file))
