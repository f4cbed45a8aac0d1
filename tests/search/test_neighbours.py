"""The notes nearest to each are kept, and after every change are those that all notes give."""

from __future__ import annotations

import math
from collections import Counter
from random import Random
from typing import TYPE_CHECKING

import numpy as np
import pytest

from kb.core.ids import NoteId
from kb.search import Index, Page
from kb.search.searcher import Searcher
from kb.search.similarity import NEAREST, Likeness
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
    return index.neighbours()[path][0][0]


def test_the_second_time_nothing_is_computed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Also for some of the notes, and in another process."""
    before = open_index(tmp_path, TEXTS).neighbours()
    monkeypatch.setattr(Searcher, "vectors", None)
    index = open_index(tmp_path, TEXTS)
    assert index.neighbours() == before
    assert index.neighbours(frozenset({"a.md", "gone.md"})) == {"a.md": before["a.md"]}


def test_some_notes_first_and_all_later_is_all(tmp_path: Path) -> None:
    """What is there is kept, and what is missing is added."""
    whole = open_index(tmp_path / "one", TEXTS).neighbours()
    index = open_index(tmp_path / "two", TEXTS)
    index.neighbours(frozenset({"c.md"}))
    assert index.neighbours() == whole


def test_a_changed_note_changes_what_is_near_to_others(tmp_path: Path) -> None:
    """Nearness of every note may follow from one."""
    assert first(open_index(tmp_path, TEXTS), "a.md") == "b.md"
    texts = {**TEXTS, "b.md": "sodium", "d.md": "potassium raises tall waves in the heart"}
    assert first(open_index(tmp_path, texts), "a.md") == "d.md"


def test_without_words_nothing_is_near(tmp_path: Path) -> None:
    """No note at all, notes without a word, and one note alone."""
    assert open_index(tmp_path / "none", {}).neighbours() == {}
    assert open_index(tmp_path / "one", {"a.md": "sodium"}).neighbours() == {"a.md": ()}
    found = Likeness([{}, {"sodium": 1}, {}, {"sodium": 2}])
    found.fill(np.arange(4))
    assert found.rows["others"][:, 0].tolist() == [-1, 3, -1, 1]


def by_hand(vectors: Sequence[dict[str, float]], own: int) -> list[tuple[int, float]]:
    """Cosines of (1 + log2 weight) x idf with every other note, one product at a time, the counts
    rounded to the nearest of 1, 1.4, 2, 2.8, 4 and so on.
    """
    held = Counter(word for vector in vectors for word in vector)

    def stepped(count: int) -> float:
        return math.sqrt(2) ** round(2 * math.log2(count))

    every = stepped(len(vectors))
    idf = {
        w: math.log(1 + (every - stepped(n) + 0.5) / (stepped(n) + 0.5)) for w, n in held.items()
    }
    rows = [{w: (1 + math.log2(x)) * idf[w] for w, x in vector.items()} for vector in vectors]

    def cosine(one: dict[str, float], other: dict[str, float]) -> float:
        both = sum(one[w] * other[w] for w in one.keys() & other.keys())
        return both / math.hypot(*one.values()) / math.hypot(*other.values())

    found = [(n, cosine(rows[own], row)) for n, row in enumerate(rows) if n != own]
    return sorted([pair for pair in found if pair[1] >= 0.1], key=lambda pair: -pair[1])


def drawn_note(chance: Random) -> dict[str, float]:
    """1 to 6 words of 30 that most notes share, or of 60 that are rare."""
    words = [f"common{n}" for n in range(30)] + [f"rare{n}" for n in range(60)]
    weights = [3.0 / (1 + n) for n in range(30)] + [0.05] * 60
    drawn = chance.choices(words, weights, k=chance.randint(1, 6))
    return {word: float(chance.randint(1, 4)) for word in drawn}


def test_the_nearest_are_those_of_largest_cosine() -> None:
    """In notes that mostly share their words."""
    chance = Random(3)
    vectors = [drawn_note(chance) for _ in range(120)]
    found = Likeness(vectors)
    found.fill(np.arange(120))
    for own in range(120):
        wanted = [value for _, value in by_hand(vectors, own)[:NEAREST]]
        wanted += [0.0] * (NEAREST - len(wanted))
        assert found.rows["cosines"][own, :NEAREST] == pytest.approx(wanted)


@pytest.mark.parametrize("seed", range(8))
def test_after_any_changes_the_nearest_are_those_of_a_new_comparison(seed: int) -> None:
    """Notes added, changed and removed, twelve rounds of some, with lists made for all or half."""
    chance = Random(seed)
    notes = {f"{chance.random():.9f}": drawn_note(chance) for _ in range(150)}
    found, before = Likeness([notes[path] for path in sorted(notes)]), sorted(notes)
    found.fill(np.arange(150))
    for _ in range(12):
        for _ in range(chance.randint(1, 3)):
            path = chance.choice([*notes, f"{chance.random():.9f}"])
            notes[path] = drawn_note(chance)
            if chance.random() < 0.3:
                del notes[chance.choice([*notes])]
        now = sorted(notes)
        vectors, kept = [notes[path] for path in now], found.rows
        found, whole = Likeness(vectors), Likeness(vectors)
        found.carry_over(kept, np.array([now.index(p) if p in notes else -1 for p in before]))
        asked = np.array(sorted(chance.sample(range(len(now)), len(now) // chance.randint(1, 2))))
        found.fill(asked)
        whole.fill(asked)
        for field in ("others", "cosines"):
            one, other = (rows[field][asked, :NEAREST] for rows in (found.rows, whole.rows))
            assert (one == other).all()
        before = now
