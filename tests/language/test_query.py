from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.language.query import Query, parse_query


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("raised potassium", Query(plain="raised potassium")),
        ('"tall T waves" ECG', Query(plain="ECG", phrases=("tall T waves",))),
        ("potassium -low", Query(plain="potassium", excluded=("low",))),
        ('potassium -"low dose"', Query(plain="potassium", excluded=("low dose",))),
        ("\u201ctall waves\u201d", Query(plain="", phrases=("tall waves",))),
        ("beta-blocker T4 -3", Query(plain="beta-blocker T4 -3")),
        ("what? wh* a:b [x TO", Query(plain="what? wh* a:b [x TO")),
        ('an open " quote', Query(plain="an open quote")),
    ],
)
def test_a_query_is_parted_as_typed(text: str, expected: Query) -> None:
    """Quotes keep words together, a minus leaves out, and every other character is text."""
    assert parse_query(text) == expected


def test_a_dash_in_a_sentence_leaves_nothing_out() -> None:
    """In a pasted stem a dash before a word is a dash."""
    stem = "a man of sixty has a raised potassium and -after dialysis- a wide complex on the ECG"
    assert parse_query(stem).excluded == ()


@given(st.text(max_size=200))
def test_no_text_fails(text: str) -> None:
    """Any text is parted, and nothing is looked for that was not in it."""
    query = parse_query(text)
    assert len(query.plain) <= len(text)
