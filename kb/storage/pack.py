"""One zip with everything of a base that is not derived, and a new base from such a zip.

A pack lists every file with its SHA-256, so that a damaged copy is refused, not half restored. File
times are kept: a note without a date is dated by its file.
"""

import io
import json
import os
import re
import shutil
import zipfile
import zlib
from dataclasses import asdict, dataclass
from datetime import datetime
from hashlib import sha256
from pathlib import Path

from kb.core.errors import ConflictError, FormatError, KBError, NoBaseError, Place, why
from kb.storage import atomic_files
from kb.storage.attempt_store import LOG
from kb.storage.base_location import EXAM, EXPORTS
from kb.storage.scan import NOT_FOLLOWED, UNREADABLE, is_inside, is_note, scan
from kb.storage.unread_files import LINK_HINT

MANIFEST = "missbook-pack.json"
SCHEMA = 1
MOST_FILES = 200_000
LARGEST_FILE = 256 * 1024 * 1024
LEAST_TOTAL = 64 * 1024 * 1024
MOST_TIMES = 100
"""Limits of what is unpacked: bytes of one file, and bytes in all, at most `LEAST_TOTAL` or
`MOST_TIMES` the pack, whichever is more. Text shrinks to a tenth; a thousandth is a trap."""
TIMES_NS = (0, 4_102_444_800 * 10**9)
"""File times from 1970 to 2100; no base has others, and not every disk takes them."""
DIGEST = re.compile(r"[0-9a-f]{64}")
PIECE = io.DEFAULT_BUFFER_SIZE
DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    NotImplementedError,
    RuntimeError,
    OverflowError,
    ValueError,
    KeyError,
    TypeError,
    AttributeError,
)
"""What reading a damaged or foreign zip may raise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """What a pack holds: how many files, and how many bytes when unpacked."""

    file_count: int
    byte_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One file as the pack's list has it; `path` has forward slashes."""

    path: str
    sha256: str
    bytes: int
    mtime_ns: int


def pack(root: Path, target: Path, now: datetime, *, replace: bool = False) -> Packed:
    """Write every file of a base into one zip. The lock is held, so that no write is half in it.

    Args:
        root: The base.
        target: The zip, outside the base.
        now: The present moment, for the list inside.
        replace: Whether a file of that name may be replaced.

    Raises:
        ConflictError: A file of that name is there already.
        KBError: It lies inside the base, a file cannot be read, two names differ in capitals only,
            or the disk refused.
    """
    if target.resolve().is_relative_to(root.resolve()):
        hint = "a copy inside the base is lost with it; name a file elsewhere"
        raise KBError(f"{target} lies inside the base", hint=hint)
    entries: list[Entry] = []
    buffer = io.BytesIO()
    with (
        atomic_files.locked(root / LOG),
        zipfile.ZipFile(buffer, "w", zipfile.ZIP_DEFLATED) as archive,
    ):
        names: dict[str, str] = {}
        for found in scan(root):
            if found.size == NOT_FOLLOWED:
                message = f"{found.path.removesuffix(UNREADABLE)} is a link; nothing was packed"
                raise KBError(message, hint=LINK_HINT)
            made = found.path.startswith(f"{EXPORTS}/") and not is_note(found.path)
            if made or UNREADABLE in found.path:
                continue  # it can be made again, or has a name that leads to no file
            same = names.setdefault(found.path.casefold(), found.path)
            if same != found.path:
                message = f"{same} and {found.path} differ in capitals only; nothing was packed"
                raise KBError(message, hint="rename one: not every system keeps them apart")
            raw = atomic_files.read_bytes(root / found.path, found.path)
            archive.writestr(found.path, raw)
            entry = Entry(
                path=found.path,
                sha256=atomic_files.digest(raw),
                bytes=len(raw),
                mtime_ns=found.mtime_ns,
            )
            entries.append(entry)
        archive.writestr(MANIFEST, _manifest(entries, now))
    expected = None if replace else ""
    atomic_files.replace_file(target, buffer.getvalue(), shown=str(target), expected=expected)
    return Packed(file_count=len(entries), byte_count=sum(entry.bytes for entry in entries))


def _manifest(entries: list[Entry], made: datetime) -> str:
    rows = [asdict(entry) for entry in entries]
    content = {"schema": SCHEMA, "made": made.isoformat(timespec="seconds"), "files": rows}
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"


def unpack(source: Path, folder: Path) -> Packed:
    """Make a base from a pack. The folder is there only when every digest has been checked.

    Args:
        source: The zip.
        folder: A folder that is not there yet, or is empty.

    Raises:
        ConflictError: The folder holds something.
        FormatError: It is no pack, or a file in it differs from its list; nothing was made.
        KBError: The disk refused; nothing was made.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        hint = "name a folder that is empty or not there yet"
        raise ConflictError(f"{folder} is not empty", hint=hint)
    shown = str(source)
    try:
        atomic_files.check_plain(source, shown)
        with source.open("rb") as stream, zipfile.ZipFile(stream) as archive:
            entries = _listed(archive, source.stat().st_size, shown)
            _write_all(archive, entries, folder, shown)
    except DAMAGED as error:
        hint = "take another copy of the pack; nothing was restored"
        message = "this is not a pack, or not all of one"
        raise FormatError(message, place=Place(shown), hint=hint) from error
    except OSError as error:
        raise NoBaseError(f"cannot be read: {why(error)}", place=Place(shown)) from error
    return Packed(file_count=len(entries), byte_count=sum(entry.bytes for entry in entries))


def _copy(archive: zipfile.ZipFile, entry: Entry, target: Path, shown: str) -> None:
    """Write one file of the pack, reading no more than its list says it holds, and check it."""
    total, left = sha256(), entry.bytes + 1
    with archive.open(entry.path) as stream, target.open("xb") as made:
        while left and (piece := stream.read(min(PIECE, left))):
            total.update(piece)
            left -= len(piece)
            made.write(piece)
    if left != 1 or total.hexdigest() != entry.sha256:
        hint = "take another copy of the pack; nothing was restored"
        message = f"'{entry.path}' is not what was packed"
        raise FormatError(message, place=Place(shown), hint=hint)


def _listed(archive: zipfile.ZipFile, pack_bytes: int, shown: str) -> list[Entry]:
    """The files in the pack's list, each of a kind that `pack` writes.

    Raises:
        FormatError: A path is hidden, leads out of the base or comes twice, or a number is beyond
            its limit.
    """
    with archive.open(MANIFEST) as stream:
        raw = stream.read(LARGEST_FILE)
    too_many = f"it names more than {MOST_FILES} files"
    if raw.count(b",") > 5 * MOST_FILES:  # a file takes four, and a path may hold more
        raise FormatError(too_many, place=Place(shown), hint="nothing was restored")
    content = json.loads(raw)
    if not isinstance(content, dict) or content.get("schema") != SCHEMA:
        message = "the list inside is not of a kind this version knows"
        raise FormatError(message, place=Place(shown), hint="use the version that packed it")
    entries = [Entry(**row) for row in content["files"]]
    for problem in (_fault(entry) for entry in entries):
        if problem:
            raise FormatError(problem, place=Place(shown), hint="this pack was tampered with")
    most = max(LEAST_TOTAL, MOST_TIMES * pack_bytes)
    if len({entry.path.casefold() for entry in entries}) < len(entries):
        problem = "it names one file twice"
    elif len(entries) > MOST_FILES:
        problem = too_many
    elif sum(entry.bytes for entry in entries) > most:
        problem = f"unpacked it would take more than {most // 2**20} MB"
    elif not any(entry.path == EXAM for entry in entries):
        problem = f"the pack has no {EXAM}"
    else:
        return entries
    raise FormatError(problem, place=Place(shown), hint="nothing was restored")


def _fault(entry: Entry) -> str:
    """Why `pack` cannot have written this entry of the list; empty if it can have."""
    parts = entry.path.split("/")
    if entry.path == MANIFEST or any(part.strip(".") and part[0] == "." for part in parts):
        return f"'{entry.path[:80]}' is a hidden file, which no pack holds"
    if not is_inside(entry.path):
        return f"'{entry.path[:80]}' would lie outside the base"
    if not DIGEST.fullmatch(entry.sha256) or not 0 <= entry.bytes <= LARGEST_FILE:
        return f"'{entry.path[:80]}' has a digest or a size that no packed file has"
    if not TIMES_NS[0] <= entry.mtime_ns <= TIMES_NS[1]:
        return f"'{entry.path[:80]}' has a time that no file has"
    return ""


def _write_all(archive: zipfile.ZipFile, entries: list[Entry], folder: Path, shown: str) -> None:
    """Write to a new folder, then rename it, so that the base is there wholly or not at all."""
    beside = folder.with_name(f".{folder.name}.{os.urandom(4).hex()}.new")
    try:
        for parent in {entry.path.rpartition("/")[0] for entry in entries}:
            (beside / parent).mkdir(parents=True, exist_ok=True)
        for entry in entries:
            target = beside / entry.path
            _copy(archive, entry, target, shown)
            os.utime(target, ns=(entry.mtime_ns, entry.mtime_ns))
        if os.name == "posix":
            os.sync()  # all of them at once: one by one, many files would take minutes
        if folder.exists():
            folder.rmdir()
        beside.rename(folder)
    except OSError as error:
        raise NoBaseError(f"cannot be written: {why(error)}", place=Place(str(folder))) from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)
