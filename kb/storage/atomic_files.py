"""The only calls that change the user's disk: replace a file, append to the log, hold the lock.

A write is done wholly or not at all: a new version is written beside the old, synced and renamed;
an append that fails is cut off again.
"""

import os
import re
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from contextvars import ContextVar
from hashlib import sha256
from pathlib import Path

from kb.core.errors import ConflictError, KBError, NoBaseError, NotFoundError, Place, why

LOCK_SECONDS = 15.0
"""How long to wait for another process; writes take milliseconds, an import some seconds."""

WATCHER: ContextVar[Callable[[Path, bytes | None, bytes | None, str], None] | None] = ContextVar(
    "watcher", default=None
)
"""Called after every change with the file, its old and new bytes, and the text appended to it."""
LEFT_OVER = re.compile(r"\..+\.[0-9a-f]{8}\.new", re.S)
"""Name of a new version until it is renamed."""
LEFT_OVER_SECONDS = 86_400.0
"""No write takes so long: an older file was left by one cut off, as by a power failure."""


def digest(raw: bytes) -> str:
    """SHA-256 of a file's bytes, in hexadecimal; a later write is checked against it."""
    return sha256(raw).hexdigest()


def size_of(path: Path) -> int | None:
    """Bytes of a file; None if there is none.

    Any other failure is raised. Since Python 3.14 `Path.exists` answers False instead, and a log
    that cannot be looked at would be begun again.

    Raises:
        OSError: It cannot be looked at.
    """
    with suppress(FileNotFoundError, NotADirectoryError):
        return path.stat().st_size
    return None


def read_bytes(path: Path, shown: str) -> bytes:
    """All bytes of a file; `shown` is how messages name it.

    Raises:
        NotFoundError: There is no such file.
        NoBaseError: It cannot be read.
    """
    try:
        check_plain(path, shown)
        return path.read_bytes()
    except FileNotFoundError as error:
        raise NotFoundError("there is no such file", place=Place(shown)) from error
    except OSError as error:
        raise NoBaseError(f"cannot be read: {why(error)}", place=Place(shown)) from error


def check_plain(path: Path, shown: str, *, linked: bool = True) -> None:
    """Refuse what is there but is no file: a pipe or a device might be waited for without end.

    Args:
        path: The file, which need not be there.
        shown: How messages name it.
        linked: Whether a link to a file will do.

    Raises:
        NoBaseError: It is no file.
        OSError: It cannot be looked at.
    """
    with suppress(FileNotFoundError):
        mode = path.stat(follow_symlinks=linked).st_mode
        if not stat.S_ISREG(mode):
            kinds = {stat.S_IFDIR: "folder", stat.S_IFLNK: "link"}
            message = f"this is a {kinds.get(stat.S_IFMT(mode), 'device')}, not a file"
            raise NoBaseError(message, place=Place(shown))


def replace_file(path: Path, raw: bytes, *, shown: str, expected: str | None = None) -> None:
    """Replace or create a file so that it is wholly old or wholly new, even after a power failure.

    Args:
        path: The file.
        raw: Its new content.
        shown: How messages name it.
        expected: Digest of the content that was read; empty if the file must not exist yet, None
            if any content may be replaced.

    Raises:
        ConflictError: The file is not what was read.
        KBError: The disk refused; the file is as it was.
    """
    sibling = path.with_name(f".{path.name[:60]}.{os.urandom(4).hex()}.new")
    try:
        check_plain(path, shown)
        _check_expected(path, shown, expected)
        path.parent.mkdir(parents=True, exist_ok=True)
        mode = _mode_of(path)
        watcher = WATCHER.get()
        before = path.read_bytes() if watcher and mode is not None else None
        try:
            _write_synced(sibling, raw, mode)
            _check_expected(path, shown, expected)
            sibling.replace(path)
        finally:
            with suppress(OSError):
                sibling.unlink(missing_ok=True)
        _sync_folder(path.parent)
        _clear_left_over(path)
        if watcher:
            watcher(path, before, raw, "")
    except OSError as error:
        raise _refused(error, "cannot be written: {}", shown) from error


def remove_file(path: Path, *, shown: str, expected: str) -> None:
    """Remove a file that is still what was read.

    Raises:
        ConflictError: The file is not what was read; it stays.
        KBError: The disk refused; it stays.
    """
    try:
        _check_expected(path, shown, expected)
        watcher = WATCHER.get()
        before = path.read_bytes() if watcher else None
        path.unlink()
        _sync_folder(path.parent)
        if watcher:
            watcher(path, before, None, "")
    except OSError as error:
        raise _refused(error, "cannot be removed: {}", shown) from error


def append_lines(path: Path, text: str, *, header: str, shown: str) -> None:
    """Append whole lines to a log file and return only when they are on the disk.

    The caller holds the lock. A missing file is made with `header` first. A torn last line is
    moved to `set-aside-<name>.txt` beside it before anything is added.

    Raises:
        KBError: The disk refused; the file is as it was before.
    """
    try:
        check_plain(path, shown)
        if size_of(path):
            _set_torn_line_aside(path)  # perhaps the header itself
        if not size_of(path):
            replace_file(path, header.encode(), shown=shown)
        # Unbuffered: a buffer would be written once more on closing the file, after a failed write
        # was cut off.
        with path.open("r+b", buffering=0) as stream:
            start = stream.seek(0, os.SEEK_END)
            try:
                rest = text.encode()
                while rest:
                    rest = rest[stream.write(rest) :]
                os.fsync(stream.fileno())
            except BaseException:
                with suppress(OSError):
                    os.truncate(path, start)
                raise
        if watcher := WATCHER.get():
            watcher(path, None, None, text)
    except OSError as error:
        raise _refused(error, "cannot be written: {}; nothing was added", shown) from error


@contextmanager
def locked(folder: Path) -> Iterator[None]:
    """Hold the base's one write lock; it lies in `folder`/.lock and dies with the process.

    Raises:
        ConflictError: Another process has held it for longer than any write takes.
        KBError: The lock file cannot be made, as in a read-only folder.
    """
    from filelock import FileLock, Timeout

    shown = f"{folder.name}/.lock"
    try:
        lock = FileLock(folder / ".lock", timeout=LOCK_SECONDS)
        lock.acquire()  # makes the folder
    except Timeout as error:
        hint = "another missbook is writing; try again when it is done"
        raise ConflictError("the base is locked", place=Place(shown), hint=hint) from error
    except OSError as error:
        raise _refused(error, "cannot be written: {}", shown) from error
    except NotImplementedError as error:
        raise KBError(f"cannot be written: {error}", place=Place(shown)) from error
    try:
        yield
    finally:
        lock.release()


def _set_torn_line_aside(path: Path) -> None:
    with path.open("r+b") as stream:
        if not stream.seek(0, os.SEEK_END):
            return
        stream.seek(-1, os.SEEK_END)
        if stream.read() == b"\n":
            return
        stream.seek(0)
        raw = stream.read()
        keep = raw.rfind(b"\n") + 1
        aside = path.with_name(f"set-aside-{path.stem}.txt")
        check_plain(aside, f"{path.parent.name}/{aside.name}", linked=False)
        with aside.open("ab") as saved:
            saved.write(raw[keep:] + b"\n")
            saved.flush()
            os.fsync(saved.fileno())
        _sync_folder(path.parent)
        stream.truncate(keep)
        stream.flush()
        os.fsync(stream.fileno())


def check_digest(found: str, expected: str | None, shown: str) -> None:
    """See that a file is still what was read; an empty digest is that of an absent file.

    Raises:
        ConflictError: It is another one than `expected`, where one is given.
    """
    if expected is None or found == expected:
        return
    if not expected:
        raise ConflictError("a file of that name is there already", place=Place(shown))
    what = "changed since it was read" if found else "is gone since it was read"
    hint = "nothing was written; look at it and try again"
    raise ConflictError(f"the file {what}", place=Place(shown), hint=hint)


def _check_expected(path: Path, shown: str, expected: str | None) -> None:
    if expected is None:
        return
    try:
        found = digest(path.read_bytes())
    except FileNotFoundError:
        found = ""
    check_digest(found, expected, shown)


def _write_synced(path: Path, raw: bytes, mode: int | None) -> None:
    with path.open("xb") as stream:
        stream.write(raw)
        stream.flush()
        os.fsync(stream.fileno())
    if mode is not None:
        path.chmod(mode)


def _clear_left_over(written: Path) -> None:
    """Remove what interrupted writes left beside a file long before it was written just now.

    Ages are by the disk's clock, so that a computer with a wrong one removes nothing new.
    """
    with suppress(OSError):
        newest = written.stat().st_mtime
        for entry in os.scandir(written.parent):
            if LEFT_OVER.fullmatch(entry.name) and entry.is_file(follow_symlinks=False):
                with suppress(OSError):
                    age = newest - entry.stat().st_mtime
                    if age > LEFT_OVER_SECONDS:
                        Path(entry.path).unlink()


def _mode_of(path: Path) -> int | None:
    try:
        return stat.S_IMODE(path.stat().st_mode)
    except FileNotFoundError:
        return None


def _sync_folder(folder: Path) -> None:
    """Make a rename durable. Windows has no such call and needs none."""
    if os.name != "posix":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _refused(error: OSError, message: str, shown: str) -> KBError:
    return KBError(message.format(why(error)), place=Place(shown), hint=_remedy(error))


def _remedy(error: OSError) -> str:
    import errno

    if error.errno == errno.ENOSPC:
        return "free some space and try again"
    if getattr(error, "winerror", 0) in (5, 32, 33):  # Windows replaces no file that is open
        return "close it in other programs, or make it writable, and try again"
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return "the folder is read-only for you; change its permissions or copy the base"
    return ""
