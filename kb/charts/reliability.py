"""How far your certainty can be trusted, level by level.

The share right at each level is set against the range in which that level brings most
certainty-based marks. The numbers are those of missbook certainty.
"""

from datetime import date

from kb.charts._model import Chart, Dots, Panel, Spans, percent_axis, row_axis
from kb.core.model import Base
from kb.core.wording import counted
from kb.presentation.report_model import Column, Option, Table, rows_of
from kb.reports.certainty import OPTIONS as REPORT_OPTIONS
from kb.stats.calibration import NAMES, SPANS, Level, chosen_answers, levels

OPTIONS: tuple[Option, ...] = REPORT_OPTIONS
COLUMNS = (
    Column("certainty", "Certainty", "count"),
    Column("expected_fraction", "Claims", "fraction", of="expected"),
    Column("right_count", "Right", "count"),
    Column("tried_count", "of", "count"),
    Column("fraction", "Share", "fraction"),
    Column("low", "Likely from", "fraction", of="likely.low"),
    Column("high", "to", "fraction", of="likely.high"),
)


def build(base: Base, today: date, *, sitting: str, new_only: bool) -> Chart:
    """A point for each certainty given, with its interval, over the range where it pays best."""
    found = levels(chosen_answers(base.attempts, sitting, new_only=new_only))
    of = f" in {sitting.casefold()}" if sitting else ""
    return Chart(
        title=f"Is your certainty reliable{of}?",
        says=_says(found),
        table=Table("certainty", COLUMNS, rows_of(COLUMNS, found)),
        key="Dot: share right. Line: its likely range (80%). Band: where that certainty pays best.",
        panels=_panels(found) if found else (),
    )


def _says(found: tuple[Level, ...]) -> tuple[str, ...]:
    if not found:
        return ("No answer has a certainty yet: write c1, c2 or c3 behind it on a sheet.",)
    tried = sum(row.tried_count for row in found)
    parts = [
        f"{NAMES[row.certainty]}: {row.fraction:.0%} of {row.tried_count:,} (likely"
        f" {row.likely.low:.0%} to {row.likely.high:.0%})"
        for row in found
    ]
    off = [f"when {NAMES[row.certainty]}, {row.verdict}" for row in found if row.verdict]
    fine = "no level is clearly outside the range where it scores best"
    return (
        ("; ".join(off) or fine).capitalize() + ".",
        f"Share right by certainty, from {counted(tried, 'answer')}.",
        "; ".join(parts).capitalize() + ".",
    )


def _panels(found: tuple[Level, ...]) -> tuple[Panel, ...]:
    rows = [(float(at), row) for at, row in enumerate(found)]
    best = tuple((at, *SPANS[row.certainty]) for at, row in rows)
    names = tuple(f"{NAMES[r.certainty]}: {r.fraction:.0%} of {r.tried_count:,}" for r in found)
    return (
        Panel(
            x=percent_axis("Right, %"),
            y=row_axis(names),
            elements=(
                Spans(spans=best, across=True, thick=True),
                Spans(
                    spans=tuple((at, row.likely.low, row.likely.high) for at, row in rows),
                    across=True,
                ),
                Dots(points=tuple((row.fraction, at) for at, row in rows)),
            ),
        ),
    )
