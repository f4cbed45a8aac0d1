"""Figures that several reports print in one way."""

from __future__ import annotations

import pytest

from kb.presentation.terms import in_marks


@pytest.mark.parametrize(
    ("marks", "shown"),
    [
        (0, ""),
        (0.004, "under 0.01 marks"),
        (0.0099, "under 0.01 marks"),
        (0.01, "0.01 marks"),
        (0.0949, "0.09 marks"),
        (0.96, "1 mark"),
        (1.04, "1 mark"),
        (9.4, "9 marks"),
        (12.4, "12 marks"),
    ],
)
def test_marks_have_one_figure_that_counts(marks: float, shown: str) -> None:
    """By hand; a hundredth of a mark is the least that is told apart."""
    assert in_marks(marks) == shown
