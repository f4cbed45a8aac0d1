"""Whether your certainty is reliable, level by level.

It also shows what your certainty would earn in certainty-based marks. Every answer logged with a
certainty of 1 to 3 counts.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date

from kb.core.errors import NotFoundError, nearest
from kb.core.model import Base
from kb.core.wording import capital, counted
from kb.presentation.report_model import Block, Fact, Facts, Option, Report, Text
from kb.presentation.terms import LIKELY
from kb.reports.sitting import sureness
from kb.stats.calibration import (
    NAMES,
    Level,
    Murphy,
    certainty_marks,
    certainty_murphy,
    chosen_answers,
    levels,
)

OPTIONS = (
    Option(
        "sitting", "text", default="", unit="name", help="Only one paper. Default: all answers."
    ),
    Option("new_only", "flag", default=False, help="Only questions new to you."),
)
TERMS = (
    ("likely", LIKELY),
    ("certainty", "1 unsure, 2 fairly sure, 3 sure, as in certainty-based marking"),
    (
        "certainty-based marks",
        "1, 2 or 3 for a right answer by its certainty, and 0, -2 or -6 for a wrong one",
    ),
    ("Brier score", "mean squared distance of certainty and outcome; 0 is perfect"),
    ("reliability", "the part due to misjudged certainty; less is better"),
    ("resolution", "how well your certainty tells right from wrong; more is better"),
)


def in_one(found: Sequence[Level]) -> str:
    """The one sentence that matters: which certainty would have paid better at another level."""
    off = [
        f"when {NAMES[row.certainty]}, you are right {100 * row.fraction:.0f}% of the time:"
        f" {row.verdict}"
        for row in found
        if row.verdict
    ]
    if off:
        return capital("; ".join(off)) + "."
    return "Your certainty is reliable: no level is clearly outside the range where it scores best."


def _earned(given_count: int, marks: int, best: int) -> str:
    """Certainty-based marks, and what misplaced certainty cost."""
    return (
        f"{counted(given_count, 'answer')} with a certainty earned {marks:,} certainty-based marks:"
        f" {best:,} for the right ones, less {best - marks:,} for the wrong ones."
    )


def _parts(parts: Murphy) -> str:
    """The Brier score and its parts, each with what it means."""
    return (
        f"Brier score {parts.brier:.3f}, the distance between certainty and outcome (0 is perfect)."
        f" Made up of: {parts.uncertainty:.3f} spread of outcomes (uncertainty),"
        f" + {parts.reliability:.3f} misjudged certainty (reliability; less is better),"
        f" - {parts.resolution:.3f} telling right from wrong (resolution; more is better)."
    )


def build(base: Base, today: date, *, sitting: str, new_only: bool) -> Report:
    """Shares right by certainty with intervals, marks, and the Brier score in its parts."""
    sat = {attempt.sitting for attempt in base.attempts if attempt.sitting}
    if sitting and sitting.casefold() not in {name.casefold() for name in sat}:
        hint = nearest(sitting, sat) or "missbook sitting lists them"
        raise NotFoundError(f"no paper called '{sitting}'", hint=hint)
    answers = chosen_answers(base.attempts, sitting, new_only=new_only)
    found = levels(answers)
    blocks: list[Block] = [Text(in_one(found), key="in_one")] if found else []
    for block in sureness(answers):
        entries = tuple(replace(entry, lines=()) for entry in block.entries)  # said above already
        blocks.append(replace(block, title="", entries=entries))
    parts = certainty_murphy(answers)
    if parts is None:
        text = "No answer has a certainty yet: write c1, c2 or c3 after it on a sheet."
        blocks.append(Text(text))
    else:
        given = [a for a in answers if a.certainty is not None and a.outcome != "blank"]
        best = sum(max(0, a.certainty or 0) for a in given if a.right)
        marks = certainty_marks(given)
        facts: list[Fact] = [
            ("answer_count", "Answers with a certainty", len(given), "count"),
            ("marks", "Certainty-based marks", marks, "count"),
            ("right_marks", "Marks of the right ones alone", best, "count"),
            ("brier", "Brier score", round(parts.brier, 4), "number"),
            ("reliability", "  reliability", round(parts.reliability, 4), "number"),
            ("resolution", "  resolution", round(parts.resolution, 4), "number"),
            ("uncertainty", "  uncertainty", round(parts.uncertainty, 4), "number"),
        ]
        blocks += [Text(_earned(len(given), marks, best)), Text(_parts(parts), quiet=True)]
        blocks.append(Facts("calibration", tuple(facts), quiet=True))
    return Report(
        "Is your certainty reliable?",
        tuple(blocks),
        terms=TERMS,
        cites=("gardner-medwin1995", "brier1950", "murphy1973", "wilson1927"),
    )
