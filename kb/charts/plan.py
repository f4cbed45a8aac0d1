"""Questions planned and done, by week or by day.

Each week behind you is set against the plan that its own first day would have given. Papers and
the mock are left out, since they are counted in papers.
"""

from collections.abc import Collection
from dataclasses import replace
from datetime import date
from itertools import groupby

from kb.charts._model import Bars, Chart, Element, Panel, Rule, Words, count_axis, row_axis
from kb.core.errors import QueryError
from kb.core.model import Base
from kb.core.wording import counted, short_day
from kb.planning.progress import PROGRESS_DAYS, DayProgress, past_and_coming
from kb.presentation.report_model import Column, Option, Table

OPTIONS = (
    Option("by", "text", default="week", choices=("week", "day"), help="Bars by week or day."),
    Option("weeks", "int", default=4, unit="weeks", help="How many weeks behind you."),
)
COLUMNS = (
    Column("from", "From", "date"),
    Column("to", "To", "date"),
    Column("planned_count", "Planned", "count"),
    Column("done_count", "Done", "count"),
)
MOST_WEEKS, DAYS_AHEAD = 52, 14
ROOM = 1.6
"""Length of the axis for the longest bar of 1: what is written behind it fits on a phone too."""
Bin = tuple["date", "date", int, "int | None"]


def build(base: Base, today: date, *, by: str, weeks: int) -> Chart:
    """Hollow bars for what was or is planned, filled ones inside for what was done."""
    if not 0 <= weeks <= MOST_WEEKS:
        raise QueryError(f"weeks must be from 0 to 52; you typed {weeks}")
    days = past_and_coming(base, today, PROGRESS_DAYS * weeks)
    bins = _trimmed(_weeks(days, today) if by == "week" else _days(days, today))
    counts = any(planned or done for _, _, planned, done in bins)
    return Chart(
        title="Planned and done",
        says=_says(bins, today) if counts else (_nothing(base, today),),
        table=Table("progress", COLUMNS, bins if counts else ()),
        key="Hollow: planned. Filled: done. Dashed: today. Papers and the mock are not counted.",
        panels=_panels(bins, by, {day.day for day in days if day.free}) if counts else (),
    )


def _trimmed(bins: tuple[Bin, ...]) -> tuple[Bin, ...]:
    """Without what follows the last question planned: the days of papers."""
    held = [at for at, row in enumerate(bins) if row[2] or row[3] is not None]
    return bins[: held[-1] + 1] if held else ()


def _nothing(base: Base, today: date) -> str:
    if today >= base.exam.date:
        return "No day is left before the exam, so there is no plan to draw."
    return "Nothing is planned: no bank with a number of items has questions left to do."


def _weeks(days: tuple[DayProgress, ...], today: date) -> tuple[Bin, ...]:
    runs = groupby(days, key=lambda day: (day.day - today).days // PROGRESS_DAYS)
    return tuple(
        (
            own[0].day,
            own[-1].day,
            sum(day.planned_count or 0 for day in own),
            None if own[0].done_count is None else sum(day.done_count or 0 for day in own),
        )
        for own in (list(run) for _, run in runs)
    )


def _days(days: tuple[DayProgress, ...], today: date) -> tuple[Bin, ...]:
    """Day by day, and no further than two weeks ahead."""
    return tuple(
        (day.day, day.day, day.planned_count or 0, day.done_count)
        for day in days
        if (day.day - today).days < DAYS_AHEAD
    )


def _says(bins: tuple[Bin, ...], today: date) -> tuple[str, ...]:
    past = [row for row in bins if row[3] is not None]
    last = [row for row in past if (today - row[0]).days <= PROGRESS_DAYS]
    done, planned = sum(row[3] or 0 for row in last), sum(row[2] for row in last)
    coming = sum(row[2] for row in bins if row[3] is None)
    text = f"{done:,} of {planned:,} planned questions done in the last {PROGRESS_DAYS} days, "
    first = f"{text if last else ''}{counted(coming, 'question')} to come."
    if not past:
        return first, "There is no earlier plan to compare with yet."
    done, planned = sum(row[3] or 0 for row in past), sum(row[2] for row in past)
    since = short_day(past[0][0])
    return (
        first,
        f"Since {since} you have done {counted(done, 'question')}; {planned:,} were planned.",
    )


def _panels(bins: tuple[Bin, ...], by: str, free: Collection[date]) -> tuple[Panel, ...]:
    names = tuple(_name(first, last, by) for first, last, _, _ in bins)
    planned = tuple((float(at), float(row[2])) for at, row in enumerate(bins))
    done = tuple((float(at), float(row[3] or 0)) for at, row in enumerate(bins))
    top = max(size for _, size in (*planned, *done))
    x = count_axis("Questions", 0.0, top, 4)
    elements: list[Element] = [
        Bars(bars=done, width=0.34, shade=0.8, across=True),
        Bars(bars=planned, width=0.64, shade=0.0, across=True),
    ]
    for at, (first, _, plan, did) in enumerate(bins):
        text = f"{plan} planned" if did is None else f"{did} of {plan}"
        if by == "day" and first in free:
            text = "kept free"
        elements.append(Words(x=max(plan, did or 0), y=at, text=text, side="right"))
    past = sum(row[3] is not None for row in bins)
    if 0 < past < len(bins):
        elements.append(Rule(at=past - 0.5, level=True))
    return (
        Panel(
            x=replace(x, high=ROOM * top, ticks=tuple(t for t in x.ticks if t[0] <= 1.1 * top)),
            y=row_axis(names),
            elements=tuple(elements),
        ),
    )


def _name(first: date, last: date, by: str) -> str:
    if first == last and by == "week":
        return short_day(first)
    if by == "day":
        return f"{first:%a} {short_day(first)}"
    if first.month == last.month:
        return f"{first.day} to {short_day(last)}"
    return f"{short_day(first)} to {short_day(last)}"
