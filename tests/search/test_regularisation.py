"""Notes that are alike lift each other: a note that says it in other words comes up."""

from __future__ import annotations

import math
import random
from typing import TYPE_CHECKING

import pytest
from index_pages import order, page

from kb.search import regularisation
from kb.search.regularisation import NEAREST, SHARE, smooth

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from kb.search import Page

ALIKE = "thirst polyuria hypernatraemia desmopressin"


def pages() -> list[Page]:
    """Three notes tell of one thing; of two that match alike, one is like them in other words."""
    return [
        *(page(f"first-{n}", f"Insipidus insipidus {ALIKE} item{n} part{n}") for n in range(3)),
        page("a-other", "Insipidus tulips roses daisies violets lilies"),
        page("b-akin", f"Insipidus {ALIKE} lilies"),
        *(page(f"rest-{n}", f"word{n} {ALIKE}") for n in range(40)),
    ]


def test_a_note_like_the_best_comes_before_one_that_is_not(tmp_path: Path) -> None:
    """Its words stand in too many notes for feedback to take them up; that it is alike counts."""
    assert order(tmp_path, pages(), "insipidus")[3:] == ["b-akin", "a-other"]


def test_likeness_decides_that_order(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """With nothing lent to others the two stay in order of path."""
    monkeypatch.setattr(regularisation, "SHARE", 0.0)
    assert order(tmp_path, pages(), "insipidus")[3:] == ["a-other", "b-akin"]


def test_a_title_with_all_words_leaves_the_order_alone(tmp_path: Path) -> None:
    """Who types a title looks for that note, not for what is like it."""
    titled = [*pages(), page("titled", "None.", "Insipidus")]
    found = order(tmp_path, titled, "insipidus")
    assert found.index("a-other") < found.index("b-akin")


def expected(scores: Sequence[float], vectors: Sequence[Mapping[str, float]]) -> list[float]:
    """The same by plain sums over words, weights cut at 2."""

    def cosine(one: Mapping[str, float], two: Mapping[str, float]) -> float:
        # Two bits a word: a word of weight 1 shares one bit with one of weight 2.
        shared = sum(min(one[name], two[name], 2) for name in one.keys() & two.keys())
        sizes = [sum(min(weight, 2) for weight in held.values()) for held in (one, two)]
        return shared / math.sqrt(sizes[0] * sizes[1]) if all(sizes) else 0.0

    found = []
    for at, score in enumerate(scores):
        others = [n for n in range(len(scores)) if n != at]
        lent = (cosine(vectors[at], vectors[n]) * (scores[n] - scores[-1]) for n in others)
        found.append(score + SHARE * sum(lent))
    return found


def test_random_notes_are_lifted_as_plain_sums_say() -> None:
    """Whole numbers with two bits a word give what sums over words give."""
    rng = random.Random(11)
    for _ in range(30):
        count = rng.randrange(1, NEAREST + 1)
        scores = sorted((rng.random() * 9 for _ in range(count)), reverse=True)
        vectors = [
            {f"w{rng.randrange(30)}": rng.choice((1.0, 2.0, 5.0)) for _ in range(rng.randrange(12))}
            for _ in range(count)
        ]
        assert smooth(scores, vectors) == pytest.approx(expected(scores, vectors))


def test_by_hand() -> None:
    """Scores 4, 3, 1; a and b share one of two words each: cosine 1/2.

    4 + .3 (1/2) (3 - 1) = 4.3 and 3 + .3 (1/2) (4 - 1) = 3.45; c shares none and stays.
    """
    vectors: list[dict[str, float]] = [{"x": 1, "y": 1}, {"y": 1, "z": 1}, {"q": 1}]
    assert smooth([4.0, 3.0, 1.0], vectors) == pytest.approx([4.3, 3.45, 1.0])


def test_only_the_nearest_lend() -> None:
    """Of one more than ten that share its word, the longest note is the least like it."""
    lenders = [{"x": 1.0} | {f"{n}.{m}": 1.0 for m in range(n)} for n in range(NEAREST + 1)]
    scores = [5.0] * len(lenders) + [2.0, 1.0]
    vectors = [*lenders, {"x": 1.0}, {"end": 1.0}]
    lent = sum(4 / math.sqrt(1 + n) for n in range(NEAREST))
    assert smooth(scores, vectors)[-2] == pytest.approx(2 + SHARE * lent)


def test_nothing_is_lifted_alone() -> None:
    """One note has no neighbours, none has none, and a note without words is like no other."""
    assert smooth([], []) == []
    assert smooth([2.0], [{"x": 1}]) == [2.0]
    assert smooth([2.0, 1.0], [{}, {}]) == [2.0, 1.0]
