"""Words are put together one way everywhere."""

from __future__ import annotations

import pytest

from kb.core.wording import capital, ended, listed


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("first round", "First round"),
        ("pH in the pleura", "pH in the pleura"),
        ("eGFR", "eGFR"),
        ("north:12", "north:12"),
        ("a/b.md: the file changed", "a/b.md: the file changed"),
        ("wrong: twice", "Wrong: twice"),
        ("", ""),
    ],
)
def test_a_sentence_begins_with_a_capital_and_a_name_stays(text: str, said: str) -> None:
    """What has capitals of its own, and what one would type, is left alone."""
    assert capital(text) == said


def test_words_are_listed_as_one_says_them() -> None:
    """Commas, and one `and`."""
    assert [listed(words) for words in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == [
        "",
        "a",
        "a and b",
        "a, b and c",
    ]


def test_a_sentence_ends() -> None:
    """With a full stop, or with what it has."""
    assert [ended(text) for text in ("gone", "did you mean x?")] == ["gone.", "did you mean x?"]
