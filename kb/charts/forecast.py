"""How likely each score is, with its ranges and the pass mark.

The numbers are those of missbook forecast.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from kb.charts._model import (
    Axis,
    Chart,
    Dots,
    Fill,
    Line,
    Panel,
    Rule,
    Spans,
    Words,
    count_axis,
    row_axis,
)
from kb.core.wording import listed
from kb.presentation.report_model import Column, Option, Table
from kb.reports.forecast import OPTIONS as REPORT_OPTIONS
from kb.stats.forecast import (
    exam_outlook,
    least_right,
    pass_fraction,
    pass_mark_of,
    refusal,
    score_ranges,
)
from kb.stats.history import history_of
from kb.stats.score_distribution import mean_score, quantile

if TYPE_CHECKING:
    from datetime import date

    import numpy as np
    from numpy.typing import NDArray

    from kb.charts._model import Element
    from kb.core.model import Base
    from kb.stats.forecast import ScoreRange

OPTIONS: tuple[Option, ...] = REPORT_OPTIONS
COLUMNS = (
    Column("score_count", "Score", "count"),
    Column("fraction", "Chance", "number"),
    Column("at_least_fraction", "That or more", "fraction"),
)
TAIL = 0.0005
"""Scores in the outer tails, less likely than this together on each side, are not drawn."""


def build(base: Base, today: date, *, pass_mark: float | None, pass_sd: float | None) -> Chart:
    """The distribution of the score, its ranges beneath it, and the pass mark across both."""
    import numpy as np

    outlook = exam_outlook(base, history_of(base.attempts))
    title = "What score to expect"
    if outlook is None:
        table = Table("scores", COLUMNS, ())
        says = (refusal(base),)
        return Chart(title=title, says=says, table=table)
    pmf = np.asarray(outlook.pmf)
    mark = pass_mark_of(base.exam, pass_mark, pass_sd)
    low, high = quantile(pmf, TAIL), quantile(pmf, 1 - TAIL)
    above = np.cumsum(pmf[::-1])[::-1]
    return Chart(
        title=title,
        says=_says(pmf, mark),
        short=_deciles(pmf),
        key=_key(mark),
        table=Table(
            "scores",
            COLUMNS,
            tuple(
                (score, float(pmf[score]), float(min(1.0, above[score])))
                for score in range(low, high + 1)
            ),
        ),
        panels=_panels(pmf, mark, low, high),
    )


def _says(pmf: NDArray[np.float64], mark: tuple[float, float] | None) -> tuple[str, ...]:
    items, ranges = len(pmf) - 1, score_ranges(pmf)
    text = f"Expect about {mean_score(pmf):.0f} of {items}, most likely"
    text += f" {ranges[1].low_count} to {ranges[1].high_count}"
    parts = [f"{_span(row)} with a chance of {row.level:.0%}" for row in ranges]
    spread = f"The score lies {listed(parts)}."
    if mark is None:
        return f"{text}.", spread
    chance = min(99, max(1, round(100 * pass_fraction(pmf, *mark))))
    sure = f", +/-{100 * mark[1]:.0f}%" if mark[1] else ""
    return (
        f"{text}; you would pass about {chance} times in 100.",
        spread,
        f"The pass mark is {mark[0]:.0%}{sure}: {least_right(items, mark[0])} questions.",
    )


def _deciles(pmf: NDArray[np.float64]) -> Table:
    """The scores reached with a chance of 9 in 10, 8 in 10 and so on."""
    rows = tuple((f"{tenth} in 10", quantile(pmf, 1 - tenth / 10)) for tenth in range(9, 0, -1))
    columns = (Column("chance", "Chance"), Column("score_count", "Of at least", "count"))
    return Table("deciles", columns, rows)


def _key(mark: tuple[float, float] | None) -> str:
    if mark is None:
        return "Bands: where the score lies with the chance named."
    text = "Dashed: the pass mark. Filled: scores below it."
    if mark[1]:
        text = "Dashed: the pass mark, hatched how unsure it is. Filled: scores below it."
    return f"{text} Bands: where the score lies with the chance named."


def _span(row: ScoreRange) -> str:
    if row.low_count == row.high_count:
        return f"at {row.low_count}"
    return f"between {row.low_count} and {row.high_count}"


def _panels(
    pmf: NDArray[np.float64], mark: tuple[float, float] | None, low: int, high: int
) -> tuple[Panel, ...]:
    """The distribution over the ranges, on one scale of items that includes the pass mark."""
    items = len(pmf) - 1
    rule = Rule(at=mark[0] * items, spread=mark[1] * items) if mark else None
    first, last = float(low), float(high)
    if rule:
        first, last = min(first, rule.at - rule.spread), max(last, rule.at + rule.spread)
    x = count_axis(f"Questions right of {items}", first, last, 6, whole=True)
    return _distribution(pmf, rule, low, high, replace(x, label="")), _ranges(pmf, rule, x)


def _distribution(
    pmf: NDArray[np.float64], rule: Rule | None, low: int, high: int, x: Axis
) -> Panel:
    """The chance of each score, dark below the pass mark; where that is uncertain it is hatched."""
    points = tuple((float(score), 100 * float(pmf[score])) for score in range(low, high + 1))
    failing = tuple(point for point in points if rule and point[0] < rule.at - 1e-9)
    top = max(chance for _, chance in points)
    y = count_axis("Chance of each score, %", 0.0, 1.2 * top, 4)
    y = replace(y, high=1.35 * top, ticks=tuple(t for t in y.ticks if t[0] <= 1.2 * top))
    mean = mean_score(pmf)
    marked: tuple[Element, ...] = ()
    if rule:
        # Short, or on a phone it would lie across the mark.
        text = f"pass mark {rule.at / (len(pmf) - 1):.0%}"
        marked = rule, Words(x=rule.at + rule.spread, y=1.26 * top, text=text)
    return Panel(
        x=x,
        y=y,
        height=210,
        elements=(
            Fill(points=points, shade=0.12),
            Fill(points=failing, shade=0.6),
            Line(points=points, stepped=True, thin=True),
            Line(points=((mean, 0.0), (mean, top)), dash="dotted", thin=True),
            *marked,
            Words(x=mean, y=top, text=f"{mean:.0f} expected", side="above"),
        ),
    )


def _ranges(pmf: NDArray[np.float64], rule: Rule | None, x: Axis) -> Panel:
    """A band for each likely range, its scores in the name of its row."""
    ranges = score_ranges(pmf)
    spans = tuple(
        (float(at), float(row.low_count), float(row.high_count)) for at, row in enumerate(ranges)
    )
    exact = tuple(Dots(points=((end, at),)) for at, begin, end in spans if begin == end)
    names = tuple(
        f"{100 * row.level:.0f} in 100: {row.low_count}"
        + (f"\N{EN DASH}{row.high_count}" if row.high_count > row.low_count else "")
        for row in ranges
    )
    below = (Rule(at=rule.at),) if rule else ()
    return Panel(
        x=x,
        y=row_axis(names, "Likely ranges"),
        elements=(*below, Spans(spans=spans, across=True, thick=True), *exact),
    )
