"""Where you stand in each area, beside its share of the exam.

Each standing has its likely range; most marks at risk come first. The numbers are those of
missbook standing.
"""

from datetime import date

from kb.charts._model import (
    Axis,
    Bars,
    Chart,
    Dots,
    Panel,
    Rule,
    Spans,
    Words,
    percent_axis,
    row_axis,
)
from kb.core.model import Base
from kb.presentation.report_model import Column, Option, Table, rows_of
from kb.stats.forecast import rights_left_out
from kb.stats.marks_at_risk import AreaStanding, Risk

OPTIONS: tuple[Option, ...] = ()
COLUMNS = (
    Column("area", "Area", "area", of="area.id"),
    Column("standing_fraction", "Standing", "fraction", of="mean"),
    Column("low_fraction", "Likely from", "fraction", of="likely.low"),
    Column("high_fraction", "to", "fraction", of="likely.high"),
    Column("tried_count", "Answers", "count"),
    Column("exam_fraction", "Share of exam", "fraction"),
)
BAR_WIDTH = 0.5

SURE_COUNT = 20
"""Answers from which an area is called the weakest or the strongest; a rule of thumb."""
WHAT = (
    "Standing in each area with its likely range, most marks at risk first, beside the area's"
    " share of the exam."
)


def build(base: Base, today: date) -> Chart:
    """One row for each area of the blueprint: its standing, and its share of the exam."""
    fault = rights_left_out(base)
    rows = Risk(base, today).area_standings() if base.attempts and not fault else ()
    return Chart(
        title="Where you stand in each area",
        says=(f"No standing: {fault}",) if fault else _says(rows, base.exam.pass_fraction),
        table=Table("areas", COLUMNS, rows_of(COLUMNS, rows)),
        panels=_panels(rows, base.exam.pass_fraction) if rows else (),
        key="Dot: standing. Band: likely range (80%). Bar: share of the exam.",
        side_by_side=True,
    )


def _says(rows: tuple[AreaStanding, ...], pass_fraction: float | None) -> tuple[str, ...]:
    if not rows:
        return ("No answer in the log yet, so there is no standing to draw.",)
    known = [row for row in rows if row.tried_count >= SURE_COUNT]
    if len(known) < 2:
        return ("Too few answers yet to tell areas apart.", WHAT)
    best = max(known, key=lambda row: row.mean)
    worst = min(known, key=lambda row: row.mean)
    text = f"Weakest is {worst.area.name} at {worst.mean:.0%}"
    if f"{worst.mean:.0%}" == f"{best.mean:.0%}":
        text = f"Every area is at {best.mean:.0%}"
    else:
        text += f", strongest {best.area.name} at {best.mean:.0%}"
    if pass_fraction is not None:
        below = sum(row.mean < pass_fraction for row in rows)
        areas = "no area is" if not below else "1 area is" if below == 1 else f"{below} areas are"
        text += f"; {areas} below the pass mark of {pass_fraction:.0%}"
    return f"{text}.", WHAT


def _panels(rows: tuple[AreaStanding, ...], pass_fraction: float | None) -> tuple[Panel, ...]:
    names = row_axis(tuple(row.area.name for row in rows), "Area")
    low = min([row.likely.low for row in rows] + [0.5 if pass_fraction is None else pass_fraction])
    stands = (
        Spans(
            spans=tuple((at, row.likely.low, row.likely.high) for at, row in enumerate(rows)),
            across=True,
            thick=True,
        ),
        Dots(points=tuple((row.mean, at) for at, row in enumerate(rows))),
    )
    marked: tuple[Rule | Words, ...] = ()
    if pass_fraction is not None:
        words = Words(x=pass_fraction, y=-0.5, text=f"pass {pass_fraction:.0%}", side="above")
        marked = (Rule(at=pass_fraction), words)
    shares = tuple((float(at), row.exam_fraction) for at, row in enumerate(rows))
    labels = tuple(Words(x=share, y=at, text=f"{share:.0%}", side="right") for at, share in shares)
    most = max(share for _, share in shares) or 1.0
    return (
        Panel(
            x=percent_axis("Standing, % right on new questions", low, 1.0, 0.1),
            y=names,
            elements=(*marked, *stands),
            share=0.72,
        ),
        Panel(
            x=Axis(label="Share of exam, %", low=0.0, high=1.7 * most),
            y=names,
            elements=(Bars(bars=shares, width=BAR_WIDTH, shade=0.35, across=True), *labels),
            share=0.28,
        ),
    )
