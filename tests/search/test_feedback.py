"""Relevance feedback: words that stand out in the first notes put the others into order."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from index_pages import order, page

from kb.search import regularisation
from kb.search.bm25f import Collection, Postings
from kb.search.document import EXACT, entries, pack_words, unpack_words

if TYPE_CHECKING:
    from pathlib import Path

    from kb.search import Page

FIRST = "Potassium potassium potassium spironolactone"
PLAIN, AKIN = "a-plain", "z-akin"


@pytest.fixture(autouse=True)
def _feedback_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """Notes that are alike would put each other into order as well."""
    monkeypatch.setattr(regularisation, "SHARE", 0.0)


def base(others: str = "") -> list[Page]:
    """46 notes.

    Three are about potassium and name spironolactone, two say potassium once and are as long as
    each other; of these only one names spironolactone too. One other in three says `others`.
    """
    return [
        *(page(f"first-{number}", f"{FIRST} drug{number}") for number in range(3)),
        page(PLAIN, "Potassium with chocolate"),
        page(AKIN, "Potassium with spironolactone"),
        *(
            page(f"other-{number}", f"Word{number} {others if number % 3 == 0 else ''}")
            for number in range(41)
        ),
    ]


def test_a_note_akin_to_the_first_comes_before_one_that_is_not(tmp_path: Path) -> None:
    """Of two notes that match alike, the one with the first notes' words comes first."""
    assert order(tmp_path, base(), "potassium")[3:] == [AKIN, PLAIN]


def test_a_title_with_all_words_leaves_the_order_alone(tmp_path: Path) -> None:
    """Where a title holds what was typed, notes that match alike stay in order of path."""
    found = order(
        tmp_path, [*base(), page("titled", "None.", "Potassium in the blood")], "potassium"
    )
    assert found.index(PLAIN) < found.index(AKIN)


def test_a_word_of_a_fifth_of_all_notes_is_not_added(tmp_path: Path) -> None:
    """A word that stands in very many notes tells nothing of these: it changes no order."""
    assert order(tmp_path, base(others="spironolactone"), "potassium")[3:] == [PLAIN, AKIN]


def test_feedback_finds_no_note_without_a_word_of_the_query(tmp_path: Path) -> None:
    """It puts what was found into order; a note with an added word alone is not found."""
    assert "lone" not in order(
        tmp_path, [*base(), page("lone", "Spironolactone alone")], "potassium"
    )


def test_added_words_weigh_as_the_published_formula_says() -> None:
    """Twice in a note and 4 times in 10 notes: 4.100137 bits; once and once: 3.596935 bits.

    By hand from Source: amati2003, Bose-Einstein 1, f log2((1 + m) / m) + log2(1 + m) with m
    occurrences a note; weights are fractions of the best word's.
    """
    whole = {"often": (2, 4.0), "seldom": (1, 1.0)}
    collection = Collection(
        (lambda _: 5, 50), lambda _: Postings((), ()), lambda _: {}, whole.__getitem__, 10
    )
    groups = collection.expand([{"often": 2.0, "seldom": 1.0}], set())
    weights = {group.forms[0][0][0]: group.weight for group in groups}
    assert weights == pytest.approx({"often": 1.0, "seldom": 3.596935 / 4.100137}, abs=1e-6)


def test_a_note_lends_its_words_with_the_weights_they_are_indexed_with() -> None:
    """Title, concepts, headings, text and remarks weigh in feedback as they do in the index."""
    whole = replace(
        page("all", 'Potassium is high. [Potassium](k.md "salt"), potassium', "High potassium"),
        concepts=("Serum potassium", "heart"),
        headings=("High", "Heart", "Missing"),
        remarks=("Read high as low",),
    )
    found, _ = entries(whole)
    indexed = {name: weight for name, (weight, _) in found.items() if name[0] != EXACT}
    assert unpack_words(pack_words(found)) == indexed
    assert indexed["potassium"] == 3 + 3 + 3
