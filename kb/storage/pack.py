"""One zip with everything of a base that is not derived, and a new base out of such a zip.

A pack names every file with its SHA-256, so that a copy damaged on its way is refused and not
half restored. File times go along: a note without a date is dated by its file.
"""

from __future__ import annotations

import io
import json
import os
import secrets
import shutil
import zipfile
import zlib
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from kb.core.errors import ConflictError, FormatError, KBError, NoBaseError, Place
from kb.storage import atomic_files
from kb.storage.attempt_store import LOG
from kb.storage.base_location import EXAM
from kb.storage.scan import scan

if TYPE_CHECKING:
    from datetime import datetime

MANIFEST = "missbook-pack.json"
SCHEMA = 1
DAMAGED = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    NotImplementedError,
    RuntimeError,
    ValueError,
    KeyError,
    TypeError,
)
"""What reading a damaged or foreign zip may raise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """What a pack holds: how many files, and how many bytes they have unpacked."""

    file_count: int
    byte_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One file of a pack, as its list tells: `path` has forward slashes."""

    path: str
    sha256: str
    byte_count: int
    mtime_ns: int


def pack(root: Path, target: Path, made: datetime, *, replace: bool = False) -> Packed:
    """Write every file of a base into one zip; the lock is held, so no write is cut in two.

    Args:
        root: The base.
        target: The zip; it must lie outside the base.
        made: The moment, for the list inside.
        replace: Whether a file of that name may be replaced.

    Raises:
        ConflictError: A file of that name is there already.
        KBError: It lies inside the base, or a file cannot be read, or the disk refused.
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
        for found in scan(root):
            raw = atomic_files.read_bytes(root / found.path, found.path)
            archive.writestr(found.path, raw)
            entry = Entry(
                path=found.path,
                sha256=atomic_files.digest(raw),
                byte_count=len(raw),
                mtime_ns=found.mtime_ns,
            )
            entries.append(entry)
        archive.writestr(MANIFEST, _manifest(entries, made))
    expected = None if replace else ""
    atomic_files.replace_file(target, buffer.getvalue(), shown=str(target), expected=expected)
    return Packed(file_count=len(entries), byte_count=sum(entry.byte_count for entry in entries))


def _manifest(entries: list[Entry], made: datetime) -> str:
    rows = [
        {
            "path": entry.path,
            "sha256": entry.sha256,
            "bytes": entry.byte_count,
            "mtime_ns": entry.mtime_ns,
        }
        for entry in entries
    ]
    content = {"schema": SCHEMA, "made": made.isoformat(timespec="seconds"), "files": rows}
    return json.dumps(content, ensure_ascii=False, indent=1) + "\n"


def unpack(source: Path, folder: Path) -> Packed:
    """Make a base from a pack. Every digest is checked before the folder comes into being.

    Args:
        source: The zip.
        folder: A folder that is not there yet, or is empty.

    Raises:
        ConflictError: The folder holds something.
        FormatError: It is no pack, or a file in it is not what its list says; nothing was made.
        KBError: The disk refused; nothing was made.
    """
    if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        hint = "name a folder that is empty or not there yet"
        raise ConflictError(f"{folder} is not empty", hint=hint)
    raw = atomic_files.read_bytes(source, str(source))
    try:
        contents = _verified(raw, str(source))
    except DAMAGED as error:
        hint = "take another copy of the pack; nothing was restored"
        message = "this is no pack, or not a whole one"
        raise FormatError(message, place=Place(str(source)), hint=hint) from error
    _write_all(contents, folder)
    return Packed(
        file_count=len(contents), byte_count=sum(entry.byte_count for entry, _ in contents)
    )


def _verified(raw: bytes, shown: str) -> list[tuple[Entry, bytes]]:
    """Every file of the pack with its bytes, each as its list says."""
    with zipfile.ZipFile(io.BytesIO(raw)) as archive:
        entries = _listed(json.loads(archive.read(MANIFEST)), shown)
        found = []
        for entry in entries:
            with archive.open(entry.path) as stream:
                content = stream.read(entry.byte_count + 1)
            if atomic_files.digest(content) != entry.sha256:
                hint = "take another copy of the pack; nothing was restored"
                message = f"'{entry.path}' is not what was packed"
                raise FormatError(message, place=Place(shown), hint=hint)
            found.append((entry, content))
    if not any(entry.path == EXAM for entry in entries):
        raise FormatError(f"the pack has no {EXAM}", place=Place(shown))
    return found


def _listed(content: object, shown: str) -> list[Entry]:
    if not isinstance(content, dict) or content.get("schema") != SCHEMA:
        message = "the list inside is not of a kind this version knows"
        raise FormatError(message, place=Place(shown), hint="use the version that packed it")
    entries = [
        Entry(
            path=str(row["path"]),
            sha256=str(row["sha256"]),
            byte_count=int(row["bytes"]),
            mtime_ns=int(row["mtime_ns"]),
        )
        for row in content["files"]
    ]
    for entry in entries:
        if not _is_inside(entry.path):
            message = f"'{entry.path}' would lie outside the base"
            raise FormatError(message, place=Place(shown), hint="this pack was tampered with")
    return entries


def _is_inside(path: str) -> bool:
    parts = path.split("/")
    return not any(part in ("", ".", "..") or "\\" in part or ":" in part for part in parts)


def _write_all(contents: list[tuple[Entry, bytes]], folder: Path) -> None:
    """Write beside, then rename, so that the folder is wholly there or not at all."""
    beside = folder.with_name(f".{folder.name}.{secrets.token_hex(4)}.new")
    try:
        folder.parent.mkdir(parents=True, exist_ok=True)
        beside.mkdir()
        for entry, raw in contents:
            target = beside / entry.path
            atomic_files.replace_file(target, raw, shown=entry.path, expected="")
            os.utime(target, ns=(entry.mtime_ns, entry.mtime_ns))
        if folder.exists():
            folder.rmdir()
        beside.rename(folder)
    except OSError as error:
        why = (error.strerror or str(error)).lower()
        raise NoBaseError(f"cannot be written: {why}", place=Place(str(folder))) from error
    finally:
        shutil.rmtree(beside, ignore_errors=True)
