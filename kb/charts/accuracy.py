"""Share right week by week, for each round and for papers.

Answers logged without a round count as first round when the question was new, otherwise as second.
A question met before is easier, so the second round flatters; papers do not.
"""

from dataclasses import replace
from datetime import date
from itertools import groupby

from kb.charts._model import (
    Chart,
    Dash,
    Dots,
    Line,
    Panel,
    Shape,
    Spans,
    Words,
    day_axis,
    percent_axis,
)
from kb.core.model import Base
from kb.core.wording import counted, listed
from kb.presentation.report_model import Column, Option, Table, rows_of
from kb.stats.accuracy import ORDER, SPAN_DAYS, SpanShare, shares_over_time

OPTIONS: tuple[Option, ...] = ()
COLUMNS = (
    Column("round", "Round"),
    Column("from", "From", "date", of="first_day"),
    Column("to", "To", "date", of="last_day"),
    Column("right_count", "Right", "count"),
    Column("tried_count", "of", "count"),
    Column("fraction", "Share", "fraction"),
    Column("low_fraction", "Likely from", "fraction", of="likely.low"),
    Column("high_fraction", "to", "fraction", of="likely.high"),
)
TITLES = {
    "first": "First round: questions new to you",
    "second": "Second round: questions met before",
    "paper": "Papers and mock",
}
SHAPES: dict[str, tuple[Shape, Dash]] = {
    "first": ("disc", "solid"),
    "second": ("ring", "dashed"),
    "paper": ("square", "dotted"),
}
ROOM = 0.15
"""Left free beneath the lowest point for the figures, where the scale allows."""
LEAST_SPANS = 2


def build(base: Base, today: date) -> Chart:
    """A panel for each round: the share right in each week, its interval and its answers."""
    rows = shares_over_time(base.attempts, today)
    enough = len({row.last_day for row in rows}) >= LEAST_SPANS
    return Chart(
        title="Share right over time, by round",
        says=_says(rows) if enough else (_too_little(rows),),
        table=Table("shares", COLUMNS, rows_of(COLUMNS, rows)),
        key="Line through each point: likely range (80%). Figure beneath: answers.",
        panels=_panels(rows) if enough else (),
    )


def _too_little(rows: tuple[SpanShare, ...]) -> str:
    if not rows:
        return "No answer in the log yet, so there is no share right to draw."
    tried = sum(row.tried_count for row in rows)
    return f"Too little to draw over time: {counted(tried, 'answer')}, all within {SPAN_DAYS} days."


def _by_round(rows: tuple[SpanShare, ...]) -> dict[str, tuple[SpanShare, ...]]:
    return {name: tuple(own) for name, own in groupby(rows, key=lambda row: row.round)}


def _says(rows: tuple[SpanShare, ...]) -> tuple[str, ...]:
    parts = []
    for name, own in _by_round(rows).items():
        right, tried = sum(row.right_count for row in own), sum(row.tried_count for row in own)
        parts.append(f"{right / tried:.0%} of {tried:,} {KINDS[name]}")
    sentences = [f"Right: {listed(parts)}."]
    if len(parts) > 1 and "second" in _by_round(rows):
        sentences.append("Questions met before are easier, so the second round flatters.")
    return (*sentences, "Share right each week, by round, with its likely range.")


KINDS = {"first": "new questions", "second": "met before", "paper": "in papers"}


def _panels(rows: tuple[SpanShare, ...]) -> tuple[Panel, ...]:
    low = min(row.likely.low for row in rows) - ROOM
    y = percent_axis("Right, %", max(0.0, low), 1.0)
    first, last = min(row.last_day for row in rows), max(row.last_day for row in rows)
    by_round = _by_round(rows)
    shown = [name for name in ORDER if name in by_round]
    panels = []
    for name in shown:
        shape, dash = SHAPES[name]
        x = day_axis("Week ending" if name == shown[-1] else "", first, last)
        x = replace(x, low=x.low - SPAN_DAYS / 2, high=x.high + SPAN_DAYS / 2)
        at = [(float(row.last_day.toordinal()), row) for row in by_round[name]]
        points = tuple((day, row.fraction) for day, row in at)
        counts = tuple(
            Words(x=day, y=y.low, text=str(row.tried_count), side="above", quiet=True)
            for day, row in at
        )
        panels.append(
            Panel(
                x=x,
                y=y,
                title=TITLES[name],
                height=130,
                elements=(
                    Spans(spans=tuple((day, row.likely.low, row.likely.high) for day, row in at)),
                    Line(points=points, dash=dash, thin=True),
                    Dots(points=points, shape=shape),
                    *counts,
                ),
            )
        )
    return tuple(panels)
