"""Terms that several reports share, so that one thing has one name."""

from __future__ import annotations

TERMS = (
    (
        "failing",
        "you have missed one of its questions since you last wrote the note, and have not yet"
        " got that question right twice in a row",
    ),
    (
        "holding",
        "you have tried its questions since you last wrote it, and none is failing",
    ),
    ("unproven", "you have not tried any of its questions since you last wrote it"),
    ("open miss", "a question missed last time that no note answers yet"),
    (
        "marks at risk",
        "how many marks you would expect to lose on this in the exam: its area's questions in the"
        " exam, times the share of the questions met there that it covers, times the chance of"
        " missing one",
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
