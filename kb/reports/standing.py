"""How you stand in each area, most marks at risk first, with how sure that is.

Judges by your own answers only; answers to questions met before are corrected for recognition.
"""

from __future__ import annotations

from datetime import timedelta
from typing import TYPE_CHECKING

from kb.blocks import Block, Column, Option, Report, Table, Text, day_line
from kb.reports._words import counted
from kb.stats.marks import Risk
from kb.stats.proportions import beta_interval, newcombe_change

if TYPE_CHECKING:
    from datetime import date

    from kb.model import AreaId, Base
    from kb.stats.proportions import Interval

MOMENT = "each week"
OPTIONS = (
    Option(name="area", kind="area", help="Only this area."),
    Option(name="days", kind="int", default=30, unit="days", help="Length of a month here."),
)
SURE_COUNT = 20
LEVEL = 0.8

TERMS = (
    ("standing", "the chance of answering a question of the area that you never met before"),
    ("likely range", "the standing lies in it with a chance of 8 in 10"),
    (
        "change",
        "share right on first encounters in the last month less that of the month before; the"
        " range covers the true change with a chance of 95 in 100, and 'unclear' means that"
        " it includes no change",
    ),
    ("marks at risk", "items of the area in the exam times the chance of missing one"),
)
COLUMNS = (
    Column(key="area", label="Area"),
    Column(key="standing_fraction", label="Standing", kind="fraction"),
    Column(key="range", label="Likely range"),
    Column(key="tried_count", label="Answers", kind="count"),
    Column(key="change", label="This month"),
    Column(key="item_count", label="Items", kind="count"),
    Column(key="marks", label="At risk", kind="marks"),
)


def build(base: Base, today: date, *, area: str | None, days: int) -> Report:
    """One row for each area of the blueprint."""
    risk = Risk(base, today)
    ranked = []
    for row in base.exam.areas:
        if area and row.id != area:
            continue
        stand = risk.standing(row.id)
        span = beta_interval(stand.a, stand.b, level=LEVEL)
        marks = row.item_count * (1 - stand.mean)
        change = _change(base, today, row.id, days)
        cells = (
            row.id,
            stand.mean,
            f"{100 * span.low:.0f}-{100 * span.high:.0f} %",
            stand.tried_count,
            change,
            row.item_count,
            marks,
        )
        ranked.append((-marks, row.id, cells))
    ranked.sort(key=lambda entry: entry[:2])
    rows = tuple(cells for _, _, cells in ranked)
    blocks: list[Block] = [Table(key="areas", columns=COLUMNS, rows=rows)]
    blocks += _cautions(base, risk)
    return Report(
        name="standing",
        title="Where you stand",
        right=day_line(today, base.exam.date),
        blocks=tuple(blocks),
        cites=("newcombe1998b",),
        terms=TERMS,
    )


def _change(base: Base, today: date, area: AreaId, days: int) -> str:
    """This month against last on first encounters, in points, or why nothing is said."""
    split, start = today - timedelta(days=days), today - timedelta(days=2 * days)
    counts = [0, 0, 0, 0]
    met: set[str] = set()
    for attempt in base.attempts:
        if attempt.question in met:
            continue
        met.add(attempt.question)
        if attempt.area != area or attempt.day <= start:
            continue
        late = 0 if attempt.day > split else 2
        counts[late] += attempt.right
        counts[late + 1] += 1
    now_right, now_tried, then_right, then_tried = counts
    if now_tried < 5 or then_tried < 5:
        return "-"
    change = now_right / now_tried - then_right / then_tried
    span = newcombe_change(now_right, now_tried, then_right, then_tried)
    return _say_change(change, span)


def _say_change(change: float, span: Interval) -> str:
    said = f"{100 * change:+.0f} ({100 * span.low:+.0f} to {100 * span.high:+.0f})"
    return said if span.low > 0 or span.high < 0 else f"{said} unclear"


def _cautions(base: Base, risk: Risk) -> list[Block]:
    few = [
        area.id
        for area in base.exam.areas
        if area.item_count and 0 < risk.standing(area.id).tried_count < SURE_COUNT
    ]
    blocks: list[Block] = []
    if few:
        names = ", ".join(few)
        said = f"Fewer than {SURE_COUNT} answers, so leaning on your other areas: {names}."
        blocks.append(Text(text=said, quiet=True))
    unmet = risk.unmet_areas()
    if unmet:
        names = ", ".join(row.area for row in unmet)
        blocks.append(Text(text=f"No question met yet in {counted(len(unmet), 'area')}: {names}."))
    return blocks
