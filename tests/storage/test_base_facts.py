"""What a search needs of a base is kept for one state of it, and no longer believed in another."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from kb.storage.base_facts import (
    BaseFacts,
    NoteFact,
    carded_paths,
    keep_cards,
    keep_facts,
    page_digests,
    read_cards,
    read_facts,
    read_note_facts,
)
from kb.storage.note_catalogue import Catalogue

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

FACTS = BaseFacts("Europe/London", ("exam.yaml:2: wrong",), {"a": "Area A"}, "unknown: b")
DAY = date(2027, 2, 9)
NOTES = {"a/x.md": NoteFact("x", ("gout", "rushed")), "a/y.md": NoteFact("y", ())}


@pytest.fixture
def catalogue(base: Callable[..., Path]) -> Catalogue:
    """Of a base of two notes."""
    found = Catalogue(base({"a/x.md": "# X\nOne.\n", "a/y.md": "# Y\nTwo.\n"}))
    found.refresh()
    return found


def test_facts_are_those_of_one_state(catalogue: Catalogue) -> None:
    """None before they are kept, for another state, and for one that cannot be told."""
    assert read_facts(catalogue, "m") is None
    keep_facts(catalogue, "m", FACTS, NOTES)
    assert read_facts(catalogue, "m") == FACTS
    assert read_facts(catalogue, "n") is None
    keep_facts(catalogue, "", FACTS, NOTES)
    assert read_facts(catalogue, "") is None


def test_facts_of_notes_are_those_last_kept(catalogue: Catalogue) -> None:
    """Of one note or of all; a note that is gone has none."""
    keep_facts(catalogue, "m", FACTS, NOTES)
    assert read_note_facts(catalogue) == NOTES
    assert read_note_facts(catalogue, "a/x.md") == {"a/x.md": NOTES["a/x.md"]}
    keep_facts(catalogue, "n", FACTS, {"a/y.md": NOTES["a/y.md"]})
    assert read_note_facts(catalogue) == {"a/y.md": NOTES["a/y.md"]}
    assert read_note_facts(catalogue, "a/x.md") == {}


def test_a_page_changes_with_its_text_and_with_its_fact(catalogue: Catalogue) -> None:
    """And only its own: another remark, then another text."""
    keep_facts(catalogue, "m", FACTS, NOTES)
    first = page_digests(catalogue)
    keep_facts(catalogue, "m", FACTS, {**NOTES, "a/x.md": NoteFact("x", ("gout",))})
    second = page_digests(catalogue)
    (catalogue.root / "a/y.md").write_text("# Y\nThree.\n", encoding="utf-8")
    catalogue.refresh()
    third = page_digests(catalogue)
    assert [path for path in first if first[path] != second[path]] == ["a/x.md"]
    assert [path for path in first if second[path] != third[path]] == ["a/y.md"]


def test_cards_are_read_as_they_were_kept(catalogue: Catalogue) -> None:
    """With their tuples, of the notes asked for alone, and not after anything changed."""
    card = ("a/x.md", "X", ("one", "two"), 3.5, None)
    keep_cards(catalogue, "m", (DAY, DAY), {"a/x.md": card})
    assert read_cards(catalogue, "m", DAY, ["a/x.md", "a/y.md"]) == {"a/x.md": card}
    assert read_cards(catalogue, "m", DAY, []) == {}
    assert read_cards(catalogue, "n", DAY, ["a/x.md"]) is None
    keep_cards(catalogue, "n", (DAY, DAY), {})
    assert read_cards(catalogue, "n", DAY, ["a/x.md"]) == {}


def test_cards_are_valid_from_one_day_to_another(catalogue: Catalogue) -> None:
    """Both included, none before and none after."""
    assert read_cards(catalogue, "", DAY, []) is None
    keep_cards(catalogue, "m", (DAY, DAY.replace(day=12)), {})
    valid = [n for n in range(1, 29) if read_cards(catalogue, "m", DAY.replace(day=n), []) == {}]
    assert valid == [9, 10, 11, 12]


def test_notes_with_a_card_are_named_unless_all_have_one(catalogue: Catalogue) -> None:
    """A note without a card is not among those that a search shows."""
    keep_cards(catalogue, "m", (DAY, DAY), {"a/x.md": ("a/x.md",)})
    assert carded_paths(catalogue) == {"a/x.md"}
    keep_cards(catalogue, "m", (DAY, DAY), {"a/x.md": ("a/x.md",), "a/y.md": ("a/y.md",)})
    assert carded_paths(catalogue) is None
