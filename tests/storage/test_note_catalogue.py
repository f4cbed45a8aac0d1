"""The catalogue holds what the notes say, and is refreshed when a file may have changed."""

from __future__ import annotations

import os
import time
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from kb.formats.note import parse_note
from kb.storage.note_catalogue import Catalogue, is_settled
from kb.storage.scan import FileStat, scan

if TYPE_CHECKING:
    from collections.abc import Callable

FULL = """\
---
id: own
title: Full
areas: [cardiology, nephrology]
concepts: [gout, AKI]
questions: [north:1, north:2]
basis: textbook
checked: 2027-01-02
written: 2027-01-03T10:00+00:00
---
# Head
See [other](../renal/other.md) and ![map](p.png).

| a | b |
|---|---|
| 1 | 2 |

## Below
943 476 5870
"""
OLD = 1_700_000_000


@pytest.fixture
def root(base: Callable[..., Path]) -> Path:
    """A base of a full note and a bare one, both written long ago."""
    made = base({"cardiology/full.md": FULL, "renal/other.md": "Bare.\n"})
    for path in made.rglob("*.*"):
        os.utime(path, (OLD, OLD))
    return made


def opened(root: Path) -> Catalogue:
    """The catalogue as another process opens it."""
    found = Catalogue(root)
    found.refresh()
    return found


def test_a_note_comes_back_as_it_was_parsed(root: Path) -> None:
    """Every field of it and all that is wrong with it, from the file and from the catalogue."""
    modified = datetime.fromtimestamp(OLD, UTC)
    for _ in range(2):
        rows = opened(root).listed()
        assert [row.note.path for row in rows] == ["cardiology/full.md", "renal/other.md"]
        for row, text in zip(rows, (FULL, "Bare.\n"), strict=True):
            note, _, problems = parse_note(text, row.note.path, modified)
            assert (row.note, row.problems) == (note, problems)
            assert row.note.place == note.place
    assert rows[0].problems
    assert rows[0].note.links
    assert opened(root).note("renal/other.md") == rows[1]
    assert opened(root).note("renal/none.md") is None


def test_only_what_changed_is_parsed_again(root: Path) -> None:
    """A step for each; one written just now is looked at until it is two seconds old."""
    opened(root)
    steps: list[tuple[int, int]] = []

    def refreshed() -> list[tuple[int, int]]:
        steps.clear()
        catalogue = Catalogue(root)
        catalogue.step = lambda number, count: steps.append((number, count))
        catalogue.refresh()
        return list(steps)

    assert refreshed() == []
    (root / "renal/other.md").write_text("Changed.\n", encoding="utf-8")
    (root / "renal/new.md").write_text("New.\n", encoding="utf-8")
    assert refreshed() == [(1, 2), (2, 2)]
    assert refreshed() == [(1, 2), (2, 2)]
    for name in ("other", "new"):
        os.utime(root / f"renal/{name}.md", (OLD + 9, OLD + 9))
    assert refreshed() == [(1, 2), (2, 2)]
    (root / "renal/new.md").unlink()
    assert refreshed() == []
    assert [row.note.path for row in opened(root).listed()] == [
        "cardiology/full.md",
        "renal/other.md",
    ]


def test_a_note_that_cannot_be_read_is_tried_again(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It is named; once it can be read, neither its size nor its time has changed."""
    real = Path.read_bytes

    def refuse(path: Path) -> bytes:
        if path.name == "other.md":
            raise PermissionError(13, "Permission denied", str(path))
        return real(path)

    with monkeypatch.context() as patch:
        patch.setattr(Path, "read_bytes", refuse)
        catalogue = opened(root)
        (row,) = [row for row in catalogue.listed() if row.note.path == "renal/other.md"]
        assert [p.message for p in row.problems] == ["cannot be read: permission denied"]
        assert catalogue.mark == ""
        assert opened(root).mark == ""
    catalogue = opened(root)
    assert [row.problems for row in catalogue.listed() if row.note.title == "other"] == [()]
    assert catalogue.mark


@pytest.mark.parametrize(
    ("text", "same"),
    [
        (FULL.replace("943 476 5870", "Words"), True),  # a caution goes with the text
        (FULL.replace("# Head", "# Other"), True),
        (FULL.replace("checked: 2027-01-02\n", "checked: 2027-01-03\n"), False),
        (FULL.replace("../renal/other.md", "../renal/next.md"), False),
        (FULL.replace("questions: [north:1, north:2]", "questions: [north:1, north:2, x]"), False),
    ],
)
def test_a_base_is_told_from_another_by_what_reports_need_of_its_notes(
    root: Path, text: str, same: bool
) -> None:
    """Front matter, links and errors; not the text, which no report but the note itself shows."""
    before = opened(root).base_mark("program")
    path = root / "cardiology/full.md"
    path.write_text(text, encoding="utf-8")
    os.utime(path, (OLD + 9, OLD + 9))
    assert (opened(root).base_mark("program") == before) == same


@pytest.mark.parametrize(("seconds", "settled"), [(1.9, False), (2, True), (5, True)])
def test_a_file_is_settled_two_seconds_after_it_was_written(seconds: float, settled: bool) -> None:
    """The newest counts; a base without files is settled."""
    now = time.time_ns()
    written = FileStat("a.md", 1, now - int(seconds * 1e9))
    assert is_settled([FileStat("b.md", 1, 0), written], now) is settled
    assert is_settled([], now)


def test_a_note_that_did_not_change_is_not_made_again(tmp_path: Path) -> None:
    """Of two notes one is edited: the record of the other is the very same one."""
    for name in ("one", "two"):
        (tmp_path / f"{name}.md").write_text(f"---\ntitle: {name}\n---\nText.\n", "utf-8")
    catalogue = Catalogue(tmp_path)
    catalogue.refresh()
    before = catalogue.listed()
    (tmp_path / "two.md").write_text("---\ntitle: two\n---\nMore text.\n", "utf-8")
    catalogue.refresh()
    after = catalogue.listed()
    assert after[0] is before[0]
    assert after[1] is not before[1]


def test_what_another_process_saw_before_does_not_hide_a_new_note(root: Path) -> None:
    """It looked at the files first, and was slow to put down what it saw."""
    other, before = Catalogue(root), scan(root)
    (root / "cardiology" / "newest.md").write_text("# Newest\n", encoding="utf-8")
    catalogue = Catalogue(root)
    catalogue.refresh()
    other.refresh(before)
    assert "cardiology/newest.md" in [row.note.path for row in catalogue.listed()]
