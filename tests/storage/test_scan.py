"""The files of a base, and the mark that stands for them."""

from __future__ import annotations

import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from kb.storage import scan as scanning
from kb.storage.scan import (
    NOT_FOLLOWED,
    UNREADABLE,
    FileStat,
    is_note,
    mark_of,
    readable,
    scan,
)

if TYPE_CHECKING:
    from collections.abc import Callable

OLD_NS = 1_700_000_000_000_000_000


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A base of a few files, one of them hidden and one in a hidden folder."""
    for path in ("exam.yaml", "renal/a.md", "renal/b é.md", "deep/er/c.md", "log/x.csv"):
        write(tmp_path, path)
    for path in (".hidden.md", ".git/x.md", "renal/.y.md"):
        write(tmp_path, path)
    (tmp_path / "empty").mkdir()
    return tmp_path


def followed(root: Path) -> tuple[FileStat, ...]:
    """What is read of a base."""
    return tuple(entry for entry in scan(root) if entry.size != NOT_FOLLOWED)


def missed(root: Path) -> list[str]:
    """Links and devices that look like notes."""
    found = [entry.path for entry in scan(root) if entry.size == NOT_FOLLOWED]
    assert all(path.endswith(UNREADABLE) for path in found)
    return sorted(path.removesuffix(UNREADABLE) for path in found)


def write(root: Path, path: str, text: str = "text", mtime_ns: int = OLD_NS) -> None:
    """Write one file as of a moment."""
    file = root / path
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")
    os.utime(file, ns=(mtime_ns, mtime_ns))


def test_every_file_that_is_not_hidden_is_found_in_order(root: Path) -> None:
    """With its size and time; hidden folders are passed over as a whole."""
    found = scan(root)
    assert [entry.path for entry in found] == [
        "deep/er/c.md", "exam.yaml", "log/x.csv", "renal/a.md", "renal/b é.md",
    ]  # fmt: skip
    assert {entry[1:] for entry in found} == {(4, OLD_NS)}


@pytest.mark.parametrize(
    "change",
    [
        lambda root: write(root, "renal/a.md", "more text"),
        lambda root: write(root, "renal/a.md", "tixt", OLD_NS + 1),
        lambda root: write(root, "renal/new.md"),
        lambda root: (root / "renal/a.md").unlink(),
        lambda root: (root / "renal/a.md").rename(root / "renal/c.md"),
        lambda root: (root / "deep").rename(root / ".deep"),
    ],
)
def test_any_change_changes_the_mark(root: Path, change: Callable[[Path], None]) -> None:
    """Size, time, name, a file added or removed."""
    before = mark_of(scan(root))
    assert mark_of(scan(root)) == before
    change(root)
    assert mark_of(scan(root)) != before


@pytest.mark.skipif(not hasattr(os, "symlink"), reason="no links here")
def test_links_are_not_followed(root: Path, tmp_path_factory: pytest.TempPathFactory) -> None:
    """Neither to a file nor to a folder outside the base."""
    outside = tmp_path_factory.mktemp("outside")
    write(outside, "secret.md")
    before = scan(root)
    try:
        (root / "linked").symlink_to(outside, target_is_directory=True)
        (root / "linked.md").symlink_to(outside / "secret.md")
    except OSError:
        pytest.skip("links are not allowed here")
    assert followed(root) == before
    assert missed(root) == ["linked", "linked.md"]


@pytest.mark.skipif(os.name != "posix", reason="links need a right of their own on Windows")
@pytest.mark.parametrize(
    ("target", "followed"),
    [("data", True), (".data", False), (".data/logs", False), ("data/.logs", False)],
)
def test_a_log_behind_a_link_is_read_unless_it_is_hidden(
    tmp_path: Path, target: str, followed: bool
) -> None:
    """However deep the hidden folder lies."""
    write(tmp_path, f"{target}/attempts-x.csv")
    (tmp_path / "log").symlink_to(target, target_is_directory=True)
    assert ("log/attempts-x.csv" in [entry.path for entry in scan(tmp_path)]) is followed


@pytest.mark.skipif(os.name != "posix", reason="links need a right of their own on Windows")
@pytest.mark.parametrize(
    ("link", "followed"),
    [
        ("log/attempts-x.csv", True),
        ("log/x.md", False),
        ("log/old/attempts-x.csv", False),
        ("renal/attempts-x.csv", False),
        ("exam.yaml", False),
        ("attempts.csv", False),
    ],
)
def test_of_single_files_only_logs_may_be_links(tmp_path: Path, link: str, followed: bool) -> None:
    """All to a file in the base that is read by itself."""
    write(tmp_path, "data/real.txt")
    (tmp_path / link).parent.mkdir(parents=True, exist_ok=True)
    (tmp_path / link).symlink_to(tmp_path / "data" / "real.txt")
    assert (link in [entry.path for entry in scan(tmp_path)]) is followed


@pytest.mark.skipif(not hasattr(os, "symlink"), reason="no links here")
def test_a_link_to_another_note_is_no_second_note(root: Path) -> None:
    """Not even inside the base: one note would have two places, and a folder could hold itself."""
    write(root, "cardiology/real.md")
    before = scan(root)
    try:
        (root / "cardiology" / "linked.md").symlink_to(root / "cardiology" / "real.md")
        (root / "shelf").symlink_to(root / "cardiology", target_is_directory=True)
        (root / "cardiology" / "self").symlink_to(root, target_is_directory=True)
    except OSError:
        pytest.skip("links are not allowed here")
    assert followed(root) == before
    assert missed(root) == ["cardiology/linked.md", "cardiology/self", "shelf"]


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes here")
def test_a_pipe_is_no_note(root: Path) -> None:
    """It is listed as what is not read; a picture's name is nobody's note."""
    before = scan(root)
    os.mkfifo(root / "renal" / "pipe.md")
    os.mkfifo(root / "renal" / "pipe.png")
    os.mkfifo(root / "renal" / "SET.YAML")
    assert followed(root) == before
    assert missed(root) == ["renal/SET.YAML", "renal/pipe.md"]


def test_a_junction_is_not_entered(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Windows calls it a folder, though it may lead back to the base itself."""
    monkeypatch.setattr(scanning, "is_junction", lambda path: Path(path).name == "deep")
    assert "deep/er/c.md" not in [entry.path for entry in followed(root)]
    assert missed(root) == ["deep"]


@pytest.mark.parametrize(
    ("path", "note"),
    [("a.md", True), ("x/B.MD", True), ("log/a.md", False), ("a.txt", False), ("\ufffd.md", False)],
)
def test_a_note_is_markdown_outside_the_log(path: str, note: bool) -> None:
    """A name that is not UTF-8 leads to no file."""
    assert is_note(path) is note
    assert UNREADABLE == "\ufffd"


def test_only_bytes_that_are_not_utf8_are_replaced_in_a_name() -> None:
    """Both ends of the surrogates, U+D800 and U+DFFF, are; their neighbours are letters or signs
    (The Unicode Standard, chapter 23.6).
    """
    assert readable("a\ud800\udfffb\ud7ff\ue000") == "a\ufffd\ufffdb\ud7ff\ue000"
