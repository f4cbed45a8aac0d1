"""What is near each note is kept for one state of the index, and never believed for another."""

from __future__ import annotations

import math
from collections import Counter
from random import Random
from typing import TYPE_CHECKING

import pytest

from kb.core.ids import NoteId
from kb.search import Index, Page
from kb.search.searcher import Searcher
from kb.search.similarity import neighbours
from kb.storage.derived_store import DerivedStore

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

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


def by_hand(vectors: Sequence[dict[str, float]], own: int, least: float) -> list[tuple[int, float]]:
    """Cosines of (1 + log2 weight) x idf with every other note, one product at a time."""
    held = Counter(word for vector in vectors for word in vector)
    idf = {w: math.log(1 + (len(vectors) - n + 0.5) / (n + 0.5)) for w, n in held.items()}
    rows = [{w: (1 + math.log2(x)) * idf[w] for w, x in vector.items()} for vector in vectors]

    def cosine(one: dict[str, float], other: dict[str, float]) -> float:
        both = sum(one[w] * other[w] for w in one.keys() & other.keys())
        return both / math.hypot(*one.values()) / math.hypot(*other.values())

    found = [(n, cosine(rows[own], row)) for n, row in enumerate(rows) if n != own]
    return sorted([pair for pair in found if pair[1] >= least], key=lambda pair: -pair[1])


@pytest.mark.parametrize("least", [0.05, 0.3, 0.5, 0.9])
def test_words_that_many_notes_share_hide_no_pair(least: float) -> None:
    """Notes of 1 to 6 words of 30, most of them in far more than one note of twenty, and of words
    in a few.
    """
    chance = Random(3)
    words = [f"common{n}" for n in range(30)] + [f"rare{n}" for n in range(60)]
    weights = [3.0 / (1 + n) for n in range(30)] + [0.05] * 60
    drawn = [chance.choices(words, weights, k=chance.randint(1, 6)) for _ in range(120)]
    vectors = [{word: float(chance.randint(1, 4)) for word in note} for note in drawn]
    found = neighbours(vectors, range(120), 4, least)
    for own in range(120):
        wanted = by_hand(vectors, own, least)[:4]
        assert [value for _, value in found[own]] == pytest.approx([value for _, value in wanted])
