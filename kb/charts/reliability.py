"""How far your certainty can be trusted, level by level.

The share right at each level is set against what the level claims; the boxes are where each pays
best in certainty-based marks. The numbers are those of missbook certainty.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.charts._model import Box, Chart, Dots, Line, Panel, Spans, Words, percent, percent_axis
from kb.core.wording import counted
from kb.presentation.report_model import Column, Option, Table, day_line
from kb.reports.certainty import OPTIONS as REPORT_OPTIONS
from kb.stats.calibration import EXPECTED, NAMES, SPANS, chosen_answers, levels

if TYPE_CHECKING:
    from datetime import date

    from kb.core.model import Base
    from kb.stats.calibration import Level

OPTIONS: tuple[Option, ...] = REPORT_OPTIONS
COLUMNS = (
    Column(key="certainty", label="Certainty", kind="count"),
    Column(key="expected_fraction", label="Claims", kind="fraction"),
    Column(key="right_count", label="Right", kind="count"),
    Column(key="tried_count", label="of", kind="count"),
    Column(key="fraction", label="Share", kind="fraction"),
    Column(key="low", label="Likely from", kind="fraction"),
    Column(key="high", label="to", kind="fraction"),
)


def build(base: Base, today: date, *, sitting: str, new_only: bool) -> Chart:
    """A point for each certainty given, with its interval, against the diagonal of perfect
    calibration.
    """
    found = levels(chosen_answers(base.attempts, sitting, new_only=new_only))
    of = f" in {sitting.casefold()}" if sitting else ""
    return Chart(
        name="reliability",
        title=f"Is your certainty reliable{of}?",
        right=day_line(today, base.exam.date),
        says=_says(found),
        gist=" ".join(_says(found)[-1:]) if found else "",
        table=Table(
            key="certainty",
            columns=COLUMNS,
            rows=tuple(
                (
                    row.certainty,
                    EXPECTED[row.certainty],
                    row.right_count,
                    row.tried_count,
                    row.fraction,
                    row.likely.low,
                    row.likely.high,
                )
                for row in found
            ),
        ),
        key="Dot: share right. Line: its likely range (80%). Box: where each certainty pays"
        " best. Dashed: as right as it claims.",
        panels=_panels(found) if found else (),
    )


def _says(found: tuple[Level, ...]) -> tuple[str, ...]:
    if not found:
        return ("No answer has a certainty yet: write c1, c2 or c3 behind it on a sheet.",)
    tried = sum(row.tried_count for row in found)
    said = [f"Share right by certainty, from {counted(tried, 'answer')}."]
    told = [
        f"{NAMES[row.certainty]}: {percent(row.fraction)} of {row.tried_count:,} (likely"
        f" {percent(row.likely.low)} to {percent(row.likely.high)})"
        for row in found
    ]
    said.append("; ".join(told).capitalize() + ".")
    off = [f"when {NAMES[row.certainty]}, {row.verdict}" for row in found if row.verdict]
    if off:
        said.append("; ".join(off).capitalize() + ".")
    else:
        said.append("No level is clearly outside the range where it scores best.")
    return tuple(said)


def _panels(found: tuple[Level, ...]) -> tuple[Panel, ...]:
    boxes = tuple(Box(left=low, right=high, bottom=low, top=high) for low, high in SPANS.values())
    at = [(EXPECTED[row.certainty], row) for row in found]
    told = tuple(_words(x, row) for x, row in at)
    return (
        Panel(
            x=percent_axis("Chance that the certainty claims, %"),
            y=percent_axis("Right, %"),
            square=True,
            height=300,
            elements=(
                *boxes,
                Line(points=((0.0, 0.0), (1.0, 1.0)), dash="dashed", thin=True),
                Spans(spans=tuple((x, row.likely.low, row.likely.high) for x, row in at)),
                Dots(points=tuple((x, row.fraction) for x, row in at)),
                *told,
            ),
        ),
    )


def _words(x: float, row: Level) -> Words:
    """A level's own words, on whichever side of its point there is room."""
    text = f"{NAMES[row.certainty]}\n{percent(row.fraction)} of {row.tried_count:,}"
    return Words(x=x, y=row.fraction, text=text, side="right", others=("below", "left", "above"))
