"""What is near each note is kept for one state of the index, and never believed for another."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.core.ids import NoteId
from kb.search import Index, Page
from kb.search.searcher import Searcher
from kb.storage.derived_store import DerivedStore

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    import pytest

TEXTS = {
    "a.md": "potassium raises tall waves in the heart",
    "b.md": "potassium and tall waves",
    "c.md": "sodium falls in the brain",
    "d.md": "sodium and the brain swells",
}


def open_index(folder: Path, texts: Mapping[str, str]) -> Index:
    """An index of these bodies by path."""
    index = Index(DerivedStore(folder))

    def page(path: str) -> Page:
        return Page(
            id=NoteId(path[0]),
            path=path,
            title=path[0],
            concepts=(),
            headings=(),
            body=texts[path],
            remarks=(),
        )

    index.sync(repr(sorted(texts.items())), lambda: dict(texts), page)
    return index


def first(index: Index, path: str) -> str:
    """The note nearest to one."""
    return index.neighbours(1)[path][0][0]


def test_the_second_time_nothing_is_computed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also for some of the notes, and in another process."""
    before = open_index(tmp_path, TEXTS).neighbours(2)
    monkeypatch.setattr(Searcher, "neighbours", None)
    index = open_index(tmp_path, TEXTS)
    assert index.neighbours(2) == before
    assert index.neighbours(2, frozenset({"a.md", "gone.md"})) == {"a.md": before["a.md"]}


def test_some_notes_first_and_all_later_is_all(tmp_path: Path) -> None:
    """What is there is kept, and what is missing is added."""
    whole = open_index(tmp_path / "one", TEXTS).neighbours(2)
    index = open_index(tmp_path / "two", TEXTS)
    index.neighbours(2, frozenset({"c.md"}))
    assert index.neighbours(2) == whole


def test_a_changed_note_makes_it_anew(tmp_path: Path) -> None:
    """Nearness of every note may follow from one."""
    assert first(open_index(tmp_path, TEXTS), "a.md") == "b.md"
    texts = {**TEXTS, "b.md": "sodium", "d.md": "potassium raises tall waves in the heart"}
    assert first(open_index(tmp_path, texts), "a.md") == "d.md"
