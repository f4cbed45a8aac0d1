"""How far behind the exam's pace you were, question by question.

Without a name, the last sitting that was timed. The numbers are those of missbook sitting.
"""

from dataclasses import replace
from datetime import date

from kb.charts._model import Chart, Dots, Element, Line, Panel, Rule, Words, count_axis
from kb.core.errors import NotFoundError, nearest
from kb.core.model import Attempt, Base
from kb.core.wording import counted, short_day
from kb.presentation.report_model import Column, Option, Table
from kb.reports.sitting import bare_sittings
from kb.stats.sitting import Sitting, Tick, clock_of, find_sittings, pace_of, parts

OPTIONS = (Option("sitting", "text", default="", unit="name", help="The paper, such as paper-3."),)
TENTH = 10
COLUMNS = (
    Column("part", "Part", "count"),
    Column("item", "After question", "count"),
    Column("spent_minutes", "Minutes spent", "number"),
    Column("target_minutes", "Target", "number"),
    Column("behind_minutes", "Behind", "number"),
    Column("outcome", "Answer"),
)


def build(base: Base, today: date, *, sitting: str) -> Chart:
    """A panel for each part that was timed: minutes behind the target line after each item."""
    found = _pick(base, sitting)
    target = base.exam.seconds_per_item
    timed = _timed(base, found) if found else ()
    table = _table(timed, target)
    title = f"Pace of {found.name}, {short_day(found.day)} {found.day.year}" if found else "Pace"
    return Chart(
        title=title,
        says=_says(found, timed, target, sitting),
        table=table,
        short=_every_tenth(table),
        key=f"Dashed: the exam's pace, {target:.0f} s a question. Above it you are behind."
        " Cross: a question not answered.",
        panels=_panels(timed, target) if timed else (),
    )


Timed = tuple[int, "tuple[Attempt, ...]", "tuple[Tick, ...]"]


def _table(timed: tuple[Timed, ...], target: float) -> Table:
    """Where the clock was after each question, in minutes."""
    rows = tuple(
        (
            number,
            tick.item,
            round(tick.spent_seconds / 60, 2),
            round(tick.item * target / 60, 2),
            round(tick.behind_seconds / 60, 2),
            answer.outcome,
        )
        for number, answers, ticks in timed
        for answer, tick in zip(answers, ticks, strict=True)
    )
    return Table("pace", COLUMNS, rows)


def _every_tenth(table: Table) -> Table:
    """Every tenth question, in whole minutes."""
    rows = tuple(
        (*row[:2], *(round(minutes) for minutes in row[2:5] if isinstance(minutes, float)))
        for row in table.rows
        if isinstance(row[1], int) and row[1] % TENTH == 0
    )
    return replace(table, columns=COLUMNS[:-1], rows=rows)


def _pick(base: Base, name: str) -> Sitting | None:
    """The sitting of that name; without a name the last one timed, or failing that the last."""
    sittings = find_sittings(base)
    wanted = name.strip().casefold()
    if wanted:
        for sitting in sittings:
            if sitting.name == wanted:
                return sitting
        if wanted in bare_sittings(base):
            return None
        hint = nearest(name, [s.name for s in sittings]) or "missbook sitting lists them"
        raise NotFoundError(f"no paper called '{name}'", hint=hint)
    timed = [sitting for sitting in sittings if _timed(base, sitting)]
    found = timed or list(sittings)
    return found[-1] if found else None


def _timed(base: Base, sitting: Sitting) -> tuple[Timed, ...]:
    items = max(1, base.exam.item_count // base.exam.paper_count)
    return tuple(
        (number, answers, ticks)
        for number, answers in enumerate(parts(sitting, items), start=1)
        if (ticks := clock_of(answers, base.exam.seconds_per_item))
    )


def _says(
    found: Sitting | None, timed: tuple[Timed, ...], target: float, name: str
) -> tuple[str, ...]:
    if found is None and name:
        return (f"The single answers of {name} are not in the log, so it has no pace to draw.",)
    if found is None:
        return ("No paper sat yet, so there is no pace to draw.",)
    if not timed:
        return (f"Too few questions of {found.name} were timed to draw its pace.",)
    parts = []
    for number, answers, _ in timed:
        pace = pace_of(answers, target)
        if pace is None:
            continue
        behind = "never behind"
        if pace.behind_minutes >= 1:
            minutes = counted(round(pace.behind_minutes), "minute")
            behind = f"at worst {minutes} behind, after question {pace.behind_item}"
        blank = f", {pace.blank_count} left blank" if pace.blank_count else ""
        parts.append(
            f"Part {number} took {pace.spent_minutes:.0f} of {pace.target_minutes:.0f} minutes,"
            f" {behind}{blank}"
        )
    return (
        "; ".join(parts) + ".",
        f"Minutes behind the exam's pace of {target:.0f} s a question, question by question in"
        f" {found.name}.",
    )


def _panels(timed: tuple[Timed, ...], target: float) -> tuple[Panel, ...]:
    behinds = [tick.behind_seconds / 60 for _, _, ticks in timed for tick in ticks]
    spread = max(behinds) - min(behinds)
    y = count_axis(
        "Minutes behind the target",
        min(0.0, *behinds) - 0.12 * spread,
        max(0.0, *behinds) + 0.18 * spread,
    )
    ground = y.low + 0.05 * (y.high - y.low)
    panels: list[Panel] = []
    for number, answers, ticks in timed:
        points = tuple((float(tick.item), tick.behind_seconds / 60) for tick in ticks)
        elements: list[Element] = [Rule(at=0.0, level=True), Line(points=((0.0, 0.0), *points))]
        pace = pace_of(answers, target)
        if pace and pace.behind_item:
            at = (float(pace.behind_item), pace.behind_minutes)
            text = f"{pace.behind_minutes:.0f} min behind"
            elements += [Dots(points=(at,)), Words(x=at[0], y=at[1], text=text, side="above")]
        blank = tuple(
            (float(tick.item), ground)
            for answer, tick in zip(answers, ticks, strict=True)
            if answer.outcome == "blank"
        )
        if blank:
            elements.append(Dots(points=blank, shape="cross"))
            x = sum(at for at, _ in blank) / len(blank)
            elements.append(Words(x=x, y=ground, text=f"{len(blank)} left blank", side="above"))
        last = number == timed[-1][0]
        panels.append(
            Panel(
                x=count_axis("Question" if last else "", 0.0, float(len(ticks)), 5, whole=True),
                y=y,
                title=f"Part {number}",
                height=150,
                elements=tuple(elements),
            )
        )
    return tuple(panels)
