"""A look at the files of a base tells what changed since the last one, however it is shared out."""

from __future__ import annotations

import os
import random
from typing import TYPE_CHECKING

import pytest

from kb.storage import scan
from kb.storage.scan import FILES, Glance, files_in, listing, look, mark_of

if TYPE_CHECKING:
    from pathlib import Path

OLD_NS = 1_700_000_000_000_000_000
LATER_NS = OLD_NS + 10**12
FOLDERS = ("", "renal", "renal/stones", "heart", "deep/er", "log")


@pytest.fixture(params=[1, 3], ids=["one process", "three"], autouse=True)
def _shared(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """By one helper, and shared out among several."""
    monkeypatch.setattr(scan, "SHARED_FILES", 1)
    monkeypatch.setattr(scan, "helper_count", lambda: request.param)


@pytest.fixture
def base(tmp_path: Path) -> Path:
    """A base of three notes a folder, and what was kept of a look at it."""
    for folder in FOLDERS:
        (tmp_path / folder).mkdir(parents=True, exist_ok=True)
        for name in ("a.md", "b é.md", "z.md"):
            write(tmp_path, f"{folder}/{name}".lstrip("/"))
    write(tmp_path, ".hidden/x.md")
    keep(tmp_path)
    return tmp_path


def write(base: Path, path: str, text: str = "text", mtime_ns: int = OLD_NS) -> None:
    """Write one file as of a moment."""
    file = base / path
    file.parent.mkdir(parents=True, exist_ok=True)
    file.write_text(text, encoding="utf-8")
    os.utime(file, ns=(mtime_ns, mtime_ns))


def keep(base: Path, since_ns: int = LATER_NS) -> None:
    """Keep a look at a base."""
    (base / ".missbook").mkdir(exist_ok=True)
    (base / ".missbook" / FILES).write_bytes(listing(look(base), since_ns))


def changed(base: Path) -> tuple[str, ...] | None:
    """Notes edited since, None if more than that changed."""
    found = Glance(base, base / ".missbook").result()
    assert found is not None
    assert found.mark == look(base).mark
    return found.edited


def test_nothing_changed(base: Path) -> None:
    """Equal files have equal marks, and no note is named."""
    found = Glance(base, base / ".missbook").result()
    assert found == (look(base).mark, look(base).mark, ())


def test_edited_notes_are_named(base: Path) -> None:
    """Also below folders that hold nothing but folders, and of the same size."""
    write(base, "renal/b é.md", "more text")
    write(base, "deep/er/z.md", "tixt", LATER_NS)
    assert changed(base) == ("deep/er/z.md", "renal/b é.md")


@pytest.mark.parametrize(
    "path", ["new.md", "renal/new.md", "brand/new.md", "deep/new.md", "deep/er/and/deeper.md"]
)
def test_a_new_file_is_more_than_an_edit(base: Path, path: str) -> None:
    """Wherever it lies."""
    write(base, path)
    assert changed(base) is None


def test_a_file_gone_is_more_than_an_edit(base: Path) -> None:
    """The notes left are not all there was."""
    (base / "heart" / "a.md").unlink()
    assert changed(base) is None


def test_a_renamed_note_is_more_than_an_edit(base: Path) -> None:
    """Its path is another."""
    (base / "heart" / "a.md").rename(base / "heart" / "c.md")
    assert changed(base) is None


def test_a_folder_gone_is_not_passed_over(base: Path) -> None:
    """The folder cannot be looked at: then nothing is told."""
    (base / "heart").rename(base / ".heart")
    assert Glance(base, base / ".missbook").result() is None


@pytest.mark.skipif(not hasattr(os, "symlink"), reason="no links here")
def test_a_folder_that_became_a_link_is_more_than_an_edit(base: Path) -> None:
    """Links are not followed, also where a folder was."""
    (base / "heart").rename(base / ".heart")
    try:
        (base / "heart").symlink_to(base / ".heart", target_is_directory=True)
    except OSError:
        pytest.skip("links are not allowed here")
    found = Glance(base, base / ".missbook").result()
    assert found is not None
    assert found.edited is None


@pytest.mark.parametrize("path", ["exam.yaml", "log/a.md"])
def test_other_files_are_more_than_notes(base: Path, path: str) -> None:
    """Settings and the log change what is told of every note."""
    write(base, path)
    keep(base)
    write(base, path, "other text")
    assert changed(base) is None


def test_an_empty_folder_is_nothing(base: Path) -> None:
    """Nor is one that holds only what is hidden."""
    (base / "empty").mkdir()
    write(base, "hidden too/.x")
    assert changed(base) == ()


def test_a_note_that_may_change_unseen_is_always_named(base: Path) -> None:
    """One just written when it was looked at may change again within the same tick."""
    write(base, "renal/a.md", mtime_ns=LATER_NS)
    keep(base, since_ns=LATER_NS - 1)
    assert changed(base) == ("renal/a.md",)


def test_many_edits_are_too_many(base: Path) -> None:
    """Beyond a few notes everything is brought up to date."""
    for number in range(scan.FEW_CHANGED + 1):
        write(base, f"renal/{number}.md")
    keep(base)
    for number in range(scan.FEW_CHANGED + 1):
        write(base, f"renal/{number}.md", "longer text")
    assert changed(base) is None


@pytest.mark.parametrize("raw", [b"", b"\xff\x00", b"[]\n", b'["x", 3]\n', b'["x", {"": [1]}]\n'])
def test_a_damaged_listing_is_passed_over(base: Path, raw: bytes) -> None:
    """Then more than notes may have changed."""
    (base / ".missbook" / FILES).write_bytes(raw)
    assert changed(base) is None


def test_the_mark_is_that_of_the_files_in_any_order(base: Path) -> None:
    """Made of a list of files or of the disk, it is the same."""
    entries = files_in(base)
    assert [path for path, _, _ in entries] == sorted(path for path, _, _ in entries)
    assert mark_of(entries) == look(base).mark


def test_any_edits_are_found(base: Path) -> None:
    """Random sets of edits: just those notes are named."""
    notes = [path for path, _, _ in files_in(base) if scan.is_note(path)]
    rng = random.Random(5)
    for round_number in range(10):
        keep(base)
        chosen = rng.sample(notes, rng.randrange(len(notes)))
        for path in chosen:
            write(base, path, "x" * rng.randrange(9), OLD_NS + round_number + 1)
        assert changed(base) == tuple(sorted(chosen))
