"""Terms that several reports share, so that one thing has one name."""

from collections.abc import Sequence

from kb.stats.note_state import STATES
from kb.stats.proportions import LIKELY_LEVEL, Interval

LEAST_MARKS = 0.01
"""Less than this no list needs to tell apart."""
LIKELY = f"there is an {LIKELY_LEVEL:.0%} chance that the true value lies in this range"

TERMS = (
    ("failing", STATES["failing"]),
    ("holding", STATES["holding"]),
    ("untested", STATES["untested"]),
    ("miss without a note", "a question you missed last time that no note answers yet"),
    (
        "marks at risk",
        "how many marks you would expect to lose on this in the exam: the area's questions in the"
        " exam, shared out over all that can be asked there, times your chance of missing one",
    ),
)


def in_marks(marks: float) -> str:
    """`0.4 marks`: one significant figure below 10, whole marks from there; empty for none."""
    if not marks > 0:
        return ""
    shown = f"{marks:.0f}" if marks >= 9.5 else f"{float(f'{marks:.1g}'):g}"
    if marks < LEAST_MARKS:
        shown = f"under {LEAST_MARKS}"
    return f"{shown} mark{'' if shown == '1' else 's'}"


def at_risk(marks: float) -> str:
    """`, 0.4 marks at risk`, to end a count with; empty for none."""
    return f", {in_marks(marks)} at risk" if marks > 0 else ""


def marks_by_row(marks: Sequence[float]) -> list[str]:
    """What each row of a list shows of its marks: nothing where all rows would show the same."""
    shown = [in_marks(own) for own in marks]
    return shown if len(set(shown)) > 1 else [""] * len(shown)


def span_text(span: Interval) -> str:
    """`66-82%`."""
    return f"{100 * span.low:.0f}-{100 * span.high:.0f}%"


def of_area(area: str) -> str:
    """The area as a row names it."""
    return area or "no area"


def minutes(seconds: float) -> str:
    """`1.5 min`, `12 min`."""
    value = seconds / 60
    return f"{value:.1f} min" if value < 9.95 else f"{value:.0f} min"
