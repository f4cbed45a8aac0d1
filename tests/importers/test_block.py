"""A block of questions becomes attempts in order, each with its outcome and moment."""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.errors import QueryError
from kb.core.settings import Source, Study
from kb.importers.block import block_drafts, parse_items, spread

END = datetime(2027, 2, 14, 12, tzinfo=UTC)
STUDY = Study(
    sources=(Source(id="north", name="North"), Source(id="paper-1", name="Paper", kind="paper"))
)
NONE: dict[str, tuple[int, ...]] = {"wrong": (), "blank": (), "guessed": ()}


def test_items_are_numbers_and_ranges() -> None:
    """In the order given, each once; typographic dashes and semicolons are understood."""
    assert parse_items("5, 1-3;2\u20134", "ITEMS") == (5, 1, 2, 3, 4)


@given(st.text(max_size=20))
def test_no_text_raises_but_its_own_error(text: str) -> None:
    """Whatever is typed is either items or one clear line."""
    with suppress(QueryError):
        assert parse_items(text, "ITEMS")


def test_a_range_holds_a_thousand_items_and_no_more() -> None:
    """From 1 to 1000 is a thousand; 1 to 1001 is one too many."""
    assert len(parse_items("1-1000", "--items")) == 1000
    with pytest.raises(QueryError, match="a range goes up, over at most 1,000 questions"):
        parse_items("1-1001", "--items")


def test_moments_keep_the_order_of_the_block() -> None:
    """The last answer ends the block, and each takes its share of the time."""
    moments = spread(END, 3, 90.0)
    assert moments == [END - timedelta(seconds=180), END - timedelta(seconds=90), END]


def test_the_minutes_of_a_block_are_shared_out_evenly() -> None:
    """By hand: 90 minutes for 50 items are 108 s each, and those of 7 minutes for 9, 46.7 s."""
    for minutes, count, each in ((90, 50, 108.0), (7, 9, 46.7), (None, 9, None)):
        drafts = block_drafts(STUDY, "north", range(1, count + 1), NONE, END, minutes=minutes)
        assert {draft.seconds for draft in drafts} == {each}


def test_a_guess_is_right_with_the_least_certainty() -> None:
    """Certainty 1, as in certainty-based marking."""
    drafts = block_drafts(STUDY, "north", (1, 2), {**NONE, "guessed": (2,)}, END)
    assert [(d.outcome, d.certainty) for d in drafts] == [("right", None), ("right", 1)]


def test_a_paper_is_a_sitting_of_its_own() -> None:
    """Its answers bear the round and the sitting without being told."""
    (draft,) = block_drafts(STUDY, "paper-1", (1,), NONE, END)
    assert (draft.round, draft.sitting) == ("paper", "paper-1")


def test_an_item_outside_the_block_is_refused() -> None:
    """A slip of the finger is not logged."""
    with pytest.raises(QueryError, match="9 is not in the block"):
        block_drafts(STUDY, "north", (1, 2), {**NONE, "wrong": (9,)}, END)


@pytest.mark.parametrize(
    ("items", "sentence"),
    [
        ("1-600, 1001-1600", "more than 1,000 questions at once"),
        ("9" * 5000, "is not a number or a range"),
    ],
)
def test_a_block_has_an_end(items: str, sentence: str) -> None:
    """Ranges without end would fill the memory, and the log."""
    with pytest.raises(QueryError, match=sentence):
        parse_items(items, "ITEMS")


def test_a_source_is_a_short_word() -> None:
    """A text pasted into the wrong field does not become a source of the log."""
    with pytest.raises(QueryError, match="is not a name for a source"):
        block_drafts(STUDY, "x" * 100, (1,), NONE, END)
    (longest,) = block_drafts(STUDY, "x" * 98, (1,), NONE, END)
    assert len(longest.question) == 100


def test_wrong_and_blank_ones_are_marked_and_all_others_right() -> None:
    """Of five items the second was wrong, the fourth left out."""
    marks = {"wrong": (12,), "blank": (14,), "guessed": ()}
    drafts = block_drafts(STUDY, "north", range(11, 16), marks, END)
    assert [draft.outcome for draft in drafts] == ["right", "wrong", "right", "blank", "right"]
    assert [draft.seconds for draft in drafts] == [None] * 5
    with pytest.raises(QueryError, match="12 is both wrong and blank"):
        block_drafts(STUDY, "north", range(11, 16), {**marks, "blank": (12,)}, END)
