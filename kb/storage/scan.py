"""All files of a base with their sizes and times, which show whether anything changed."""

from __future__ import annotations

import os
from array import array
from operator import itemgetter
from typing import TYPE_CHECKING, NamedTuple

from kb.core.errors import NoBaseError, why

try:  # hashlib itself loads a whole cryptographic library
    from _blake2 import blake2b
except ImportError:
    from hashlib import blake2b

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

RACY_NS = 2_000_000_000
"""A file written this shortly before a scan may change again with the same size and time."""

UNREADABLE = "\ufffd"
"""Replaces what is not UTF-8 in a name, as in files from an old archive. No file has the name so
made; the real one could not be stored, printed or sent."""


NOT_FOLLOWED = -1
"""Size of what is listed as a link or a device, its path ending in `UNREADABLE`."""

is_junction: Callable[[str], bool] = getattr(os.path, "isjunction", os.path.islink)
"""Whether a folder is a link of another kind, which only Windows has. Python 3.11 cannot say."""


class FileStat(NamedTuple):
    """One file of a base: its path in it, size in bytes, and time of its last change."""

    path: str
    size: int
    mtime_ns: int


def scan(root: Path) -> tuple[FileStat, ...]:
    """Every file of the base that is not hidden, sorted by path. For links see `is_followed`.

    Raises:
        NoBaseError: A folder cannot be read.
    """
    found: list[FileStat] = []
    try:
        _walk(str(root), "", found)
    except OSError as error:
        raise NoBaseError(f"{root} cannot be read: {why(error)}") from error
    found.sort(key=itemgetter(0))  # comparing all of each record takes twice as long
    return tuple(found)


def mark_of(files: Sequence[FileStat]) -> str:
    """A digest of these files: if it is the same again, no name, size or time changed."""
    names = "\0".join([entry.path for entry in files])
    sizes = array("q", [entry.size for entry in files])
    times = array("q", [entry.mtime_ns for entry in files])
    total = blake2b(names.encode(), digest_size=16)
    total.update(sizes.tobytes())
    total.update(times.tobytes())
    return total.hexdigest()


LONGEST_PATH = 1000
LARGEST_NOTE = 20_000_000
"""Bytes from which on a Markdown file is not read: it is no note, and all others would wait."""


def is_inside(path: str) -> bool:
    """Whether a path that a file gives can be one of a base: within it, and not hidden."""
    parts = path.split("/")
    odd = any(part[:1] in ("", ".") or "\\" in part or ":" in part for part in parts)
    return not odd and path.isprintable() and len(path) <= LONGEST_PATH


def is_note(path: str) -> bool:
    """Whether a file of the base is a note, by its name."""
    return path[-3:].lower() == ".md" and not path.startswith("log/") and UNREADABLE not in path


def readable(name: str) -> str:
    """A name, what is not UTF-8 replaced."""
    return "".join(UNREADABLE if "\ud800" <= sign <= "\udfff" else sign for sign in name)


def _walk(folder: str, prefix: str, found: list[FileStat]) -> None:
    """Add the files below a folder. A file or folder whose name is not UTF-8 counts as an empty
    file. A link that is not followed is listed where it might hide a note or a setting.
    """
    make = FileStat._make
    with os.scandir(folder) as entries:
        for entry in entries:
            name = entry.name
            if name[0] == ".":
                continue
            if not name.isascii() and readable(name) != name:
                found.append(FileStat(prefix + readable(name), 0, 0))
            elif entry.is_file(follow_symlinks=False) or (
                entry.is_file() and is_followed(folder, prefix, name)
            ):
                stat = entry.stat()
                found.append(make((prefix + name, stat.st_size, stat.st_mtime_ns)))
            elif (entry.is_dir(follow_symlinks=False) and not is_junction(entry.path)) or (
                entry.is_dir() and is_followed(folder, prefix, name)
            ):
                _walk(entry.path, f"{prefix}{name}/", found)
            elif prefix[:4] != "log/" and name != "log" and is_missed(entry):
                found.append(make((prefix + name + UNREADABLE, NOT_FOLLOWED, 0)))


def is_missed(entry: os.DirEntry[str]) -> bool:
    """Whether a person may take this link or device for a part of the base."""
    return entry.name.lower().endswith((".md", ".yaml")) or entry.is_dir()


def is_followed(folder: str, prefix: str, name: str) -> bool:
    """Whether a link is followed: only `log` itself or a file directly in it, and only to a place
    in the base that is not hidden. Any other link could lead in a circle, or out of the base.

    Args:
        folder: The folder that holds the link.
        prefix: The same as it is called in the base, such as `log/`; empty for the base's own.
        name: The link.
    """
    if (prefix, name) != ("", "log") and (prefix != "log/" or not name.endswith(".csv")):
        return False
    from pathlib import Path

    holder = Path(folder)
    root = (holder.parent if prefix else holder).resolve()
    target = (holder / name).resolve()
    inside = target != root and target.is_relative_to(root)
    return inside and not any(part[0] == "." for part in target.relative_to(root).parts)
