"""Writes are whole or not there, whatever fails, and no two writers lose each other's lines."""

from __future__ import annotations

import errno
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from kb.core.errors import ConflictError, KBError, NoBaseError, NotFoundError
from kb.storage import atomic_files

HEADER = "id,remark\r\n"
OLD, NEW = b"old text\n", b"new text, longer than the old\n"


def fail_nth_call(
    monkeypatch: pytest.MonkeyPatch, number: int, code: int = errno.ENOSPC
) -> list[int]:
    """Let the n-th operating-system call of a write fail, as on a full disk."""
    calls = [0]

    def wrap(owner: Any, name: str) -> None:
        real = getattr(owner, name)

        def call(*args: Any, **kwargs: Any) -> Any:
            calls[0] += 1
            if calls[0] == number:
                raise OSError(code, os.strerror(code))
            return real(*args, **kwargs)

        monkeypatch.setattr(owner, name, call)

    for owner, name in (
        (atomic_files.os, "fsync"),
        (atomic_files.Path, "replace"),
        (atomic_files.Path, "open"),
        (atomic_files.Path, "chmod"),
        (atomic_files.Path, "mkdir"),
    ):
        wrap(owner, name)
    return calls


@pytest.mark.parametrize("number", range(1, 9))
def test_a_replaced_file_is_wholly_old_or_wholly_new(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    """Whichever call fails, the file is whole and no temporary file stays behind."""
    path = tmp_path / "note.md"
    path.write_bytes(OLD)
    with monkeypatch.context() as patch:
        calls = fail_nth_call(patch, number)
        failed = False
        try:
            atomic_files.replace_file(path, NEW, shown="note.md")
        except KBError:
            failed = True
        reached = calls[0] >= number
    assert failed == reached
    assert path.read_bytes() in ((OLD, NEW) if failed else (NEW,))
    assert [p.name for p in tmp_path.iterdir()] == ["note.md"]


@pytest.mark.parametrize("number", range(1, 5))
def test_a_failed_append_adds_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    """Whichever call fails, the log holds exactly what was acknowledged."""
    path = tmp_path / "attempts.csv"
    atomic_files.append_lines(path, "1,first\r\n", header=HEADER, shown="log")
    with monkeypatch.context() as patch:
        calls = fail_nth_call(patch, number)
        failed = False
        try:
            atomic_files.append_lines(path, "2,second\r\n", header=HEADER, shown="log")
        except KBError:
            failed = True
        reached = calls[0] >= number
    assert failed == reached
    added = b"" if failed else b"2,second\r\n"
    assert path.read_bytes() == b"id,remark\r\n1,first\r\n" + added


def test_a_log_that_cannot_be_looked_at_is_not_begun_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Path.exists answers False for such a file from Python 3.14 on."""
    path = tmp_path / "attempts.csv"
    atomic_files.append_lines(path, "1\n", header="id\n", shown="attempts.csv")
    real = Path.stat

    def stat(self: Path, **named: bool) -> os.stat_result:
        if self == path:
            raise PermissionError(errno.EACCES, "Permission denied")
        return real(self, **named)

    with monkeypatch.context() as patch:
        patch.setattr(Path, "stat", stat)
        patch.setattr(Path, "exists", lambda self: self != path)
        with pytest.raises(KBError):
            atomic_files.append_lines(path, "2\n", header="id\n", shown="attempts.csv")
    assert path.read_bytes() == b"id\n1\n"


def test_a_full_disk_is_said_in_one_line(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The message names the file, the cause and the remedy."""
    fail_nth_call(monkeypatch, 2)
    with pytest.raises(KBError) as caught:
        atomic_files.replace_file(tmp_path / "x", NEW, shown="log/attempts-a.csv")
    assert "no space left on device" in str(caught.value)
    assert "hint: free some space" in str(caught.value)


def test_a_read_only_folder_is_said_in_one_line(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The lock cannot be made, and the message says why."""
    fail_nth_call(monkeypatch, 1, errno.EROFS)
    with pytest.raises(KBError) as caught, atomic_files.locked(tmp_path / "log"):
        pass
    assert "read-only file system" in str(caught.value)
    assert "read-only for you" in caught.value.hint


def test_a_torn_last_line_is_set_aside_before_appending(tmp_path: Path) -> None:
    """The torn bytes go to a file of their own and the next line starts clean."""
    path = tmp_path / "attempts-a.csv"
    path.write_bytes(b"id,remark\r\n1,first\r\n2,sec")
    atomic_files.append_lines(path, "3,third\r\n", header=HEADER, shown="log")
    assert path.read_bytes() == b"id,remark\r\n1,first\r\n3,third\r\n"
    assert (tmp_path / "set-aside-attempts-a.txt").read_bytes() == b"2,sec\n"


def test_a_changed_file_is_not_overwritten(tmp_path: Path) -> None:
    """A write against an older digest is refused and changes nothing."""
    path = tmp_path / "note.md"
    path.write_bytes(OLD)
    with pytest.raises(ConflictError, match="changed since it was read"):
        atomic_files.replace_file(
            path, NEW, shown="note.md", expected=atomic_files.digest(b"other")
        )
    assert path.read_bytes() == OLD


def test_a_new_file_never_replaces_one_of_its_name(tmp_path: Path) -> None:
    """An empty expectation means that nothing may be there."""
    path = tmp_path / "note.md"
    path.write_bytes(OLD)
    with pytest.raises(ConflictError, match="there already"):
        atomic_files.replace_file(path, NEW, shown="note.md", expected="")


@pytest.mark.skipif(os.name != "posix", reason="permission bits are a POSIX matter")
def test_what_a_killed_write_left_is_cleared_after_a_day(tmp_path: Path) -> None:
    """By the next write in that folder; nothing that is younger, or not of our naming, goes."""
    path = tmp_path / "note.md"
    names = [".other.md.0123abcd.new", ".young.md.0123abcd.new", ".mine.new", "x.0123abcd.new"]
    names += [".upper.md.0123ABCD.new", ".other.md.0123abcd.new.md"]
    for name in names:
        (tmp_path / name).write_bytes(OLD)
    (tmp_path / ".folder.0123abcd.new").mkdir()
    day_ago = path.parent.stat().st_mtime - 86_400 - 60
    for left in tmp_path.iterdir():
        age = 120 if "young" in left.name else 0  # a minute short of a day
        os.utime(left, (day_ago + age, day_ago + age))
    atomic_files.replace_file(path, NEW, shown="note.md")
    left = sorted(entry.name for entry in tmp_path.iterdir())
    assert left == sorted(["note.md", ".folder.0123abcd.new", *names[1:]])


def test_what_cannot_be_cleared_stops_no_write(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file that was asked for is written all the same."""
    old = tmp_path / ".other.md.0123abcd.new"
    old.write_bytes(OLD)
    os.utime(old, (0, 0))

    def refuse(*_: object) -> None:
        raise PermissionError(errno.EACCES, "no")

    path = tmp_path / "note.md"
    with monkeypatch.context() as patch:
        patch.setattr(atomic_files.os, "scandir", refuse)
        atomic_files.replace_file(path, NEW, shown="note.md")
    assert path.read_bytes() == NEW


def test_permissions_survive_a_replacement(tmp_path: Path) -> None:
    """A private file stays private."""
    path = tmp_path / "note.md"
    path.write_bytes(OLD)
    path.chmod(0o600)
    atomic_files.replace_file(path, NEW, shown="note.md")
    assert path.stat().st_mode & 0o777 == 0o600


def test_missing_and_unreadable_files_are_told_apart(tmp_path: Path) -> None:
    """A missing file is NotFoundError; one that cannot be read is NoBaseError."""
    with pytest.raises(NotFoundError):
        atomic_files.read_bytes(tmp_path / "none", "none")
    with pytest.raises(NoBaseError, match="this is a folder, not a file"):
        atomic_files.read_bytes(tmp_path, "a folder")


WRITER = """
import sys
from pathlib import Path
from kb.storage import atomic_files as files
folder, name = Path(sys.argv[1]), sys.argv[2]
for number in range(40):
    with files.locked(folder):
        line = f"{name}-{number},x\\r\\n"
        files.append_lines(folder / "a.csv", line, header="id,remark\\r\\n", shown="a.csv")
"""


def test_two_processes_appending_at_once_lose_nothing(tmp_path: Path) -> None:
    """Every line of both is there, once and whole."""
    root = Path(__file__).parent.parent.parent
    both = [
        subprocess.Popen([sys.executable, "-c", WRITER, str(tmp_path), name], cwd=root)
        for name in ("one", "two")
    ]
    assert [process.wait(timeout=60) for process in both] == [0, 0]
    lines = (tmp_path / "a.csv").read_text(encoding="utf-8").splitlines()
    assert lines[0] == "id,remark"
    expected = {f"{name}-{number},x" for name in ("one", "two") for number in range(40)}
    assert sorted(lines[1:]) == sorted(expected)


def test_a_held_lock_is_reported(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If another process holds the lock for too long, the message says so."""
    from filelock import FileLock

    monkeypatch.setattr(atomic_files, "LOCK_SECONDS", 0.01)
    held = FileLock(tmp_path / ".lock")
    with held, pytest.raises(ConflictError, match="is locked"), atomic_files.locked(tmp_path):
        pass


class Calls:
    """What a write asks of the system, in order: each file that is synced, with the bytes it has by
    then, and each rename. A random name is shown as `new`.
    """

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
        self.folder, self.made = folder, list[str]()
        fsync, rename = os.fsync, Path.replace

        def synced(handle: int) -> None:
            self.made.append(f"sync {self._name(handle)}")
            fsync(handle)

        def renamed(path: Path, target: Path) -> Path:
            self.made.append(f"rename {shown(path.name)} to {target.name}")
            return rename(path, target)

        monkeypatch.setattr(atomic_files.os, "fsync", synced)
        monkeypatch.setattr(atomic_files.Path, "replace", renamed)

    def _name(self, handle: int) -> str:
        found = os.fstat(handle)
        if os.path.samestat(found, self.folder.stat()):
            return "folder"
        names = [p for p in self.folder.iterdir() if os.path.samestat(found, p.stat())]
        return f"{shown(names[0].name)} {found.st_size}"


def shown(name: str) -> str:
    """The name of a file; that of one not renamed yet is random."""
    return "new" if atomic_files.LEFT_OVER.fullmatch(name) else name


@pytest.mark.skipif(os.name != "posix", reason="only here a folder has to be synced")
def test_a_replaced_file_is_synced_renamed_and_its_folder_synced(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its bytes are on the disk before it has its name, and the name before the call returns."""
    path = tmp_path / "note.md"
    path.write_bytes(OLD)
    calls = Calls(tmp_path, monkeypatch)
    atomic_files.replace_file(path, NEW, shown="note.md")
    assert calls.made == [f"sync new {len(NEW)}", "rename new to note.md", "sync folder"]


@pytest.mark.skipif(os.name != "posix", reason="only here a folder has to be synced")
def test_an_append_returns_when_its_line_is_on_the_disk(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A new log is first made with its header, like any file; then each line is synced."""
    path, line = tmp_path / "attempts.csv", "1,first\r\n"
    calls = Calls(tmp_path, monkeypatch)
    atomic_files.append_lines(path, line, header=HEADER, shown="log")
    made = [f"sync new {len(HEADER)}", "rename new to attempts.csv", "sync folder"]
    assert calls.made == [*made, f"sync attempts.csv {len(HEADER + line)}"]
    calls.made.clear()
    atomic_files.append_lines(path, line, header=HEADER, shown="log")
    assert calls.made == [f"sync attempts.csv {len(HEADER + line + line)}"]


@pytest.mark.skipif(os.name != "posix", reason="only here a folder has to be synced")
def test_a_torn_line_is_on_the_disk_elsewhere_before_it_is_cut_off(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So that no power failure can take it from both places."""
    path, line = tmp_path / "attempts.csv", "2,second\r\n"
    path.write_bytes(HEADER.encode() + b"1,to")
    calls = Calls(tmp_path, monkeypatch)
    atomic_files.append_lines(path, line, header=HEADER, shown="log")
    assert calls.made == [
        f"sync set-aside-attempts.txt {len('1,to') + 1}",
        "sync folder",
        f"sync attempts.csv {len(HEADER)}",
        f"sync attempts.csv {len(HEADER + line)}",
    ]


@pytest.mark.skipif(os.name != "posix", reason="only here a folder has to be synced")
def test_a_removed_file_is_gone_for_good(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its folder is synced before the call returns."""
    path = tmp_path / "note.md"
    path.write_bytes(OLD)
    calls = Calls(tmp_path, monkeypatch)
    atomic_files.remove_file(path, shown="note.md", expected=atomic_files.digest(OLD))
    assert calls.made == ["sync folder"]
    assert not path.exists()


def test_a_change_made_while_the_new_text_is_written_is_not_overwritten(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file is compared once more just before it is replaced."""
    path = tmp_path / "note.md"
    path.write_bytes(OLD)
    write = atomic_files._write_synced

    def while_another_writes(*arguments: Any) -> None:
        path.write_bytes(b"typed in an editor meanwhile\n")
        write(*arguments)

    monkeypatch.setattr(atomic_files, "_write_synced", while_another_writes)
    with pytest.raises(ConflictError, match="changed since it was read"):
        atomic_files.replace_file(path, NEW, shown="note.md", expected=atomic_files.digest(OLD))
    assert path.read_bytes() == b"typed in an editor meanwhile\n"
    assert [p.name for p in tmp_path.iterdir()] == ["note.md"]


def test_a_file_gone_with_its_folder_is_not_made_again(tmp_path: Path) -> None:
    """Nothing is written, and no folder is made, against a digest of what was read."""
    path = tmp_path / "gone" / "note.md"
    with pytest.raises(ConflictError, match="is gone since it was read"):
        atomic_files.replace_file(path, NEW, shown="x", expected=atomic_files.digest(OLD))
    assert list(tmp_path.iterdir()) == []


def test_folders_are_made_for_a_new_file_only(tmp_path: Path) -> None:
    """However deep; a second file finds them there."""
    for name in ("one.md", "two.md"):
        atomic_files.replace_file(tmp_path / "a" / "b" / name, NEW, shown="x", expected="")
    assert sorted(p.name for p in (tmp_path / "a" / "b").iterdir()) == ["one.md", "two.md"]
    with pytest.raises(KBError, match="a folder, not a file"):
        atomic_files.replace_file(tmp_path / "a", NEW, shown="a")


@pytest.mark.parametrize("expected", ["", "0" * 64])
def test_what_must_not_be_there_or_must_be_another_is_not_removed(
    tmp_path: Path, expected: str
) -> None:
    """It stays as it is."""
    path = tmp_path / "note.md"
    path.write_bytes(OLD)
    with pytest.raises(ConflictError):
        atomic_files.remove_file(path, shown="note.md", expected=expected)
    assert path.read_bytes() == OLD


def test_the_lock_is_free_again_after_an_error(tmp_path: Path) -> None:
    """Whatever was raised while it was held."""
    with pytest.raises(ValueError, match="own"), atomic_files.locked(tmp_path / "log"):
        raise ValueError("own")
    with atomic_files.locked(tmp_path / "log"):
        pass


def test_an_empty_log_gets_its_header_and_nothing_is_set_aside(tmp_path: Path) -> None:
    """As a synchroniser may have made it before its first line came."""
    path = tmp_path / "log.csv"
    path.write_bytes(b"")
    atomic_files.append_lines(path, "a,b\n", header="x,y\n", shown="log.csv")
    assert path.read_bytes() == b"x,y\na,b\n"
    assert [one.name for one in tmp_path.iterdir()] == ["log.csv"]
