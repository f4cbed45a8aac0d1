"""Files that the person names: what is read from one, and what is written to one."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from kb.core.errors import ConflictError, FormatError, Place, QueryError
from kb.core.wording import listed
from kb.services.which_base import base_around
from kb.storage import atomic_files
from kb.storage.base_location import EXAM, EXPORTS


def read_file(file: Path | str, shown: str = "") -> bytes:
    """The bytes of a file, which messages call `shown`, or by its path.

    Raises:
        NotFoundError: There is no such file.
        KBError: It cannot be read, or is too large.
    """
    path, name = Path(file), shown or str(file)
    if path.is_char_device():  # it may never end
        raise FormatError("this is a device, not a file", place=Place(name))
    if path.is_fifo():  # as of a shell that gives what another command prints
        return path.read_bytes()
    if path.is_file() and path.stat().st_size > LARGEST_READ:
        message = f"the file is {path.stat().st_size // 1_000_000} MB: too large to read"
        raise FormatError(message, place=Place(name), hint="divide it")
    return atomic_files.read_bytes(path, name)


LARGEST_READ = 32_000_000
"""Bytes of the largest sheet, table or calendar."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Output:
    """A file that may be written: it is no part of a base, and replaces another only if it may."""

    file: Path
    replace: bool

    def write(self, raw: bytes) -> None:
        """Write it, whole or not at all.

        Raises:
            ConflictError: Another file of that name has come into being meanwhile.
            KBError: The disk refused.
        """
        expected = None if self.replace else ""
        atomic_files.replace_file(self.file, raw, shown=str(self.file), expected=expected)


def output(file: Path, suffixes: Sequence[str], *, replace: bool) -> Output:
    """A file that a command may write, whose name ends in one of the suffixes.

    A path inside any base is refused, but for the base's own folder of exports; links are followed
    first, so that none leads into a base unseen.

    Raises:
        QueryError: It lies inside a base, or its name ends in something else.
        ConflictError: There is a file of that name.
    """
    if file.suffix.casefold() not in suffixes:
        message = f"{file} does not end in {listed(suffixes, 'or')}; nothing was written"
        raise QueryError(message, hint=f"such as {file.stem}{suffixes[0]}")
    real = file.resolve()
    for folder in real.parents:
        inner = real.relative_to(folder).parts
        if (folder / EXAM).is_file() and (len(inner) < 2 or inner[0].casefold() != EXPORTS):
            hint = f"name a place outside it, or {folder / EXPORTS / file.name}"
            raise QueryError(f"{file} lies inside the base; nothing was written", hint=hint)
    if real.exists() and not replace:
        hint = "name another file, or add --replace"
        raise ConflictError(f"{file} is there already; nothing was written", hint=hint)
    return Output(file=file, replace=replace)


def usual_file(here: Path, name: str) -> Path:
    """Where a file goes that the person did not name: here, or into the exports of the base that
    this folder is in.
    """
    base = base_around(here)
    if base is None:
        return Path(name)
    return Path(EXPORTS, name) if base == here else base / EXPORTS / name
