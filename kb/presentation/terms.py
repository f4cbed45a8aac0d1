"""Terms that several reports share, so that one thing has one name."""

from __future__ import annotations

TERMS = (
    ("failing", "a question of the note was missed after the note was last written"),
    ("holding", "its questions came right after it was last written"),
    ("unproven", "none of its questions was tried after it was last written"),
    ("open miss", "a question missed last time that no note answers yet"),
    (
        "marks at risk",
        "exam items expected to be lost on this: the items of its area in the exam, times the"
        " share of the questions met there that it covers, times the chance of missing one",
    ),
)


def in_marks(marks: float) -> str:
    """`0.42 marks`, and whole tenths from 10 up."""
    return f"{marks:.2f} marks" if marks < 10 else f"{marks:.1f} marks"


def of_area(area: str) -> str:
    """The area as a row names it."""
    return area or "no area"


def minutes(seconds: float) -> str:
    """`1.5 min`, `12 min`."""
    value = seconds / 60
    return f"{value:.1f} min" if value < 9.95 else f"{value:.0f} min"
