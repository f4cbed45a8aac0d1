"""What is asked of a report or chart has its bounds, from whichever door it comes."""

from __future__ import annotations

from datetime import date

import pytest

from kb.core.errors import QueryError
from kb.core.settings import Exam
from kb.presentation.options import LONGEST, chosen
from kb.presentation.report_model import Option

EXAM = Exam(name="X", date=date(2027, 5, 11), areas=())
OPTIONS = (
    Option(name="days", kind="int", help="How far back to look."),
    Option(name="minutes", kind="float", help="How long."),
    Option(name="limit", kind="int", least=1, help="How many."),
    Option(name="words", kind="words", help="What to find."),
)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("days", "999999999999"),
        ("days", "-999999999999"),
        ("days", "9" * 400),
        ("minutes", "inf"),
        ("minutes", "nan"),
        ("minutes", "1e400"),
        ("words", "a" * (LONGEST + 1)),
    ],
)
def test_what_no_computation_is_made_for_is_refused(name: str, value: str) -> None:
    """A slip of the finger ends in a sentence, not in a day that no calendar has."""
    with pytest.raises(QueryError, match=f"{name} (must be|may have) at most"):
        chosen(OPTIONS, {name: value}, EXAM)


@pytest.mark.parametrize("value", ["0", "-3"])
def test_too_few_are_refused(value: str) -> None:
    """Rather than to say that there is nothing to list."""
    with pytest.raises(QueryError, match=f"limit must be 1 or more; you typed {value}"):
        chosen(OPTIONS, {"limit": value}, EXAM)


def test_what_a_person_asks_for_is_taken() -> None:
    """Years of days, and a sentence of words."""
    asked = {"days": "3650", "minutes": "0.5", "words": "low sodium " * 20}
    found = chosen(OPTIONS, asked, EXAM)
    assert (found["days"], found["minutes"]) == (3650, 0.5)
