"""References of questions, and numbers as people type them."""

from __future__ import annotations

import pytest

from kb.core.ids import parse_new_question, parse_question, whole_number


@pytest.mark.parametrize("item", ["1", "0041", "12a", "Q7", "3.1", "a-1", "1e", "e5"])
def test_any_name_of_an_item_may_be_logged(item: str) -> None:
    """Letters, digits, dots and hyphens, as banks number their questions."""
    assert parse_new_question(f"north:{item}") == f"north:{item}"


@pytest.mark.parametrize("item", ["-1", "0", "00", "1e5", "1E12", ".5", "2²", "٣٤", "१"])
def test_a_number_that_no_bank_has_is_not_logged(item: str) -> None:
    """A spreadsheet made it, or a slip; what a log has of it already is still read."""
    assert parse_new_question(f"north:{item}") is None
    assert parse_question(f"north:{item}") == f"north:{item}"


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("0", 0),
        ("0041", 41),
        ("²", None),
        ("٣", None),
        ("-1", None),
        ("1e5", None),
        ("", None),
        (" 1", None),
        ("9" * 5000, None),
    ],
)
def test_a_whole_number_is_plain_digits(text: str, number: int | None) -> None:
    """Whatever else Python calls a digit, or is too long for it, is none."""
    assert whole_number(text) == number
