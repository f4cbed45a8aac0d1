"""A look at the files of a base: whether anything changed since the last one, and which notes.

Each folder has a mark of its own, so that several processes can share a large base, and so that
only a folder that changed is compared file by file.
"""

from __future__ import annotations

import json
import os
from array import array
from functools import partial
from typing import TYPE_CHECKING, NamedTuple

from kb.storage.beside import Beside, helper_count

try:  # hashlib itself loads a whole cryptographic library
    from _blake2 import blake2b
except ImportError:
    from hashlib import blake2b

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

RACY_NS = 2_000_000_000
"""A file whose time is this close to the look at it may change again without showing it."""
FILES = "find-files.json"
FEW_CHANGED = 20
"""With more edited notes a search had better bring everything up to date."""
RACY_SIZE = -1
"""Stands for the size of a note that may change again unseen: it is read again every time."""
SHARED_FILES = 8_000
"""A second process is worth its while for so many files."""

UNREADABLE = "\ufffd"
"""Stands in a name for what is not UTF-8, as in files from an old archive: a name that holds it
leads to no file. Text of such a name could not be kept, printed or sent."""

Entry = tuple[str, int, int]
"""Path, size and time of a file; within its folder the name instead of the path."""


class Look(NamedTuple):
    """A look at all files of a base: equal marks mean that nothing changed."""

    mark: str
    entries: tuple[Entry, ...]


class Change(NamedTuple):
    """What a look tells beside the one that was kept.

    `mark` is that of the files now, `kept_mark` that of those for which the rows hold; `edited` are
    the notes edited since, None if more than that changed.
    """

    mark: str
    kept_mark: str
    edited: tuple[str, ...] | None


class Held(NamedTuple):
    """What is kept of one folder: its mark, how many files, and where they are listed."""

    mark: str
    files: int
    start: int
    size: int


NO_FILES = Held("", 0, 0, 0)


def look(root: Path) -> Look:
    """Names, sizes and times of all files of a base that are not hidden."""
    found = files_in(root)
    return Look(mark_of(found), tuple(found))


def files_in(root: Path) -> list[Entry]:
    """Every file of a base that is not hidden, in order of path. Links are not followed."""
    found = [
        (f"{folder}/{name}" if folder else name, size, mtime)
        for folder, entries in _walk(str(root), "")
        for name, size, mtime in entries
    ]
    found.sort()
    return found


def mark_of(entries: Iterable[Entry]) -> str:
    """What stands for files in order of path."""
    return _mark_of_all({folder: _mark(rows) for folder, rows in _by_folder(entries).items()})


def is_note(path: str) -> bool:
    """Whether a file of the base is a note."""
    return (
        path.casefold().endswith(".md") and not path.startswith("log/") and UNREADABLE not in path
    )


def listing(seen: Look, since_ns: int) -> bytes:
    """What is kept of a look: the mark, a table of folders, and the files of each.

    Args:
        seen: The look.
        since_ns: Notes with a later time may change again unseen.
    """
    table: dict[str, Held] = {}
    lines: list[bytes] = []
    at = 0
    for folder, rows in _by_folder(seen.entries).items():
        kept = [(name, RACY_SIZE if ns > since_ns else size, ns) for name, size, ns in rows]
        lines.append(json.dumps(kept).encode("ascii") + b"\n")
        table[folder] = Held(_mark(kept), len(kept), at, len(lines[-1]))
        at += len(lines[-1])
        parts = folder.split("/")
        for depth in range(len(parts)):  # also those that hold nothing but folders
            table.setdefault("/".join(parts[:depth]), NO_FILES)
    return b"".join((json.dumps([seen.mark, table]).encode("ascii"), b"\n", *lines))


class Glance:
    """What changed since a look was kept, found out while other work goes on.

    Args:
        root: The base.
        folder: Where derived files go.
    """

    def __init__(self, root: Path, folder: Path) -> None:
        self._mark, self._table, start = _read_table(folder / FILES)
        shares = _shares(self._table, helper_count())
        self._works = [
            Beside(partial(_compare, str(root), str(folder / FILES), start, self._table, share))
            for share in shares
        ]

    def result(self) -> Change | None:
        """What changed, waited for; None if the files could not be looked at."""
        marks: dict[str, str] = {}
        below: set[str] = {""}
        paths: list[str] | None = []
        for work in self._works:
            part = work.result()
            if part is None:
                return None
            marks.update(part[0])
            below.update(part[1])
            paths = None if paths is None or part[2] is None else paths + part[2]
        if paths is not None and (len(paths) > FEW_CHANGED or not below.issuperset(self._table)):
            paths = None
        edited = None if paths is None else tuple(sorted(paths))
        return Change(_mark_of_all(marks), self._mark, edited)


def _read_table(path: Path) -> tuple[str, dict[str, Held], int]:
    """The kept mark, the folders, and where their files begin; nothing where there is none."""
    try:
        with path.open("rb") as stream:
            line = stream.readline()
        mark, table = json.loads(line)
        return mark, {folder: Held(*held) for folder, held in table.items()}, len(line)
    except (OSError, ValueError, TypeError, AttributeError):
        return "", {"": NO_FILES}, 0


def _shares(table: Mapping[str, Held], most: int) -> list[list[str]]:
    """Folders parted among processes, about as many files to each."""
    count = max(1, min(most, sum(held.files for held in table.values()) // SHARED_FILES))
    shares: list[list[str]] = [[] for _ in range(count)]
    filled = [0] * count
    for folder in sorted(table, key=lambda name: -table[name].files):
        least = filled.index(min(filled))
        shares[least].append(folder)
        filled[least] += table[folder].files
    return shares


def _compare(
    root: str, path: str, start: int, table: Mapping[str, Held], share: Sequence[str]
) -> tuple[dict[str, str], list[str], list[str] | None]:
    """Marks of some folders now, the folders right below them, and their notes that changed."""
    marks: dict[str, str] = {}
    below: list[str] = []
    changed: list[str] | None = []
    for folder in share:
        entries, names = _list_folder(f"{root}/{folder}" if folder else root)
        inner = [f"{folder}/{name}" if folder else name for name in names]
        below += inner
        if entries:
            marks[folder] = _mark(entries)
        held = table[folder]
        if marks.get(folder, "") != held.mark and changed is not None:
            notes = _edited(folder, entries, _kept_entries(path, start, held))
            changed = None if notes is None else changed + notes
        for name in inner:
            if name not in table:
                fresh = {deep: _mark(rows) for deep, rows in _walk(f"{root}/{name}", name) if rows}
                marks |= fresh
                changed = None if fresh else changed
    return marks, below, changed


def _kept_entries(path: str, start: int, held: Held) -> list[Entry]:
    if not held.size:
        return []
    with open(path, "rb") as stream:  # noqa: PTH123 - a path is text here, as it is sent
        stream.seek(start + held.start)
        return [(name, size, mtime) for name, size, mtime in json.loads(stream.read(held.size))]


def _edited(folder: str, now: list[Entry], before: list[Entry]) -> list[str] | None:
    """Paths of the notes that differ, None if other files do or any came or went."""
    prefix = f"{folder}/" if folder else ""
    fresh = {prefix + name for name, _, _ in set(now).difference(before)}
    stale = {prefix + name for name, _, _ in set(before).difference(now)}
    return sorted(fresh) if fresh == stale and all(map(is_note, fresh)) else None


def _walk(path: str, folder: str) -> Iterator[tuple[str, list[Entry]]]:
    """A folder and all below it, each with its files."""
    entries, names = _list_folder(path)
    yield folder, entries
    for name in names:
        yield from _walk(f"{path}/{name}", f"{folder}/{name}" if folder else name)


def readable(name: str) -> str:
    """A name, with a sign in place of what is not UTF-8."""
    return "".join(UNREADABLE if "\ud800" <= sign <= "\udfff" else sign for sign in name)


def _list_folder(path: str) -> tuple[list[Entry], list[str]]:
    """Files in order of name, and names of folders; none that are hidden, no links. What has a
    name that is not UTF-8, a folder too, is a file without content.
    """
    files: list[Entry] = []
    folders: list[str] = []
    with os.scandir(path) as entries:
        for entry in entries:
            name = entry.name
            if name[0] == ".":
                continue
            if not name.isascii() and readable(name) != name:
                files.append((readable(name), 0, 0))
                continue
            if entry.is_file(follow_symlinks=False):
                stat = entry.stat(follow_symlinks=False)
                files.append((name, stat.st_size, stat.st_mtime_ns))
            elif entry.is_dir(follow_symlinks=False):
                folders.append(name)
    files.sort()
    return files, folders


def _by_folder(entries: Iterable[Entry]) -> dict[str, list[Entry]]:
    """Files in order of path -> those of each folder in order of name."""
    found: dict[str, list[Entry]] = {}
    for path, size, mtime in entries:
        folder, _, name = path.rpartition("/")
        found.setdefault(folder, []).append((name, size, mtime))
    return found


def _mark(entries: list[Entry]) -> str:
    """What stands for the files of one folder."""
    if not entries:
        return ""
    names, sizes, times = zip(*entries, strict=True)
    parts = (os.fsencode("/".join(names)), array("q", sizes).tobytes(), array("q", times).tobytes())
    return blake2b(b"/".join(parts), digest_size=16).hexdigest()


def _mark_of_all(marks: Mapping[str, str]) -> str:
    return blake2b(json.dumps(sorted(marks.items())).encode(), digest_size=16).hexdigest()
