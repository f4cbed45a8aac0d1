"""What score the exam is likely to bring.

With its range and the chance of passing.

Says nothing before a hundred answers. Second-round answers are corrected for recognition.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from kb.core.wording import counted
from kb.presentation.report_model import (
    Block,
    Column,
    Facts,
    Kind,
    Option,
    Report,
    Table,
    Text,
    day_line,
)
from kb.presentation.terms import TERMS, in_marks
from kb.reports.brief import reading_seconds
from kb.stats.forecast import (
    LEAST_ANSWERS,
    Backtest,
    exam_outlook,
    pass_fraction,
    pass_mark_of,
    score_ranges,
)
from kb.stats.marks_at_risk import Risk
from kb.stats.note_state import judge
from kb.stats.proportions import wilson
from kb.stats.reading_effect import reading_effect
from kb.stats.score_distribution import mean_score

if TYPE_CHECKING:
    from datetime import date

    from numpy.typing import NDArray

    from kb.core.model import Base
    from kb.core.settings import Exam

OPTIONS = (
    Option(
        name="pass_mark",
        kind="float",
        help="Pass mark, a share of the items (0.6), instead of the exam's own.",
    ),
    Option(
        name="pass_sd",
        kind="float",
        help="How unsure the pass mark is: its standard deviation, a share (0.02).",
    ),
)
CHEAPEST_MARKS = 5.0
OWN_TERMS = (
    (
        "likely range",
        "the score lies in it with the chance given, if the exam is like what you have answered"
        " and you go on as you are",
    ),
    ("recognition", "a question met before is easier to answer than a new one on the same fact"),
    (
        "error",
        "how far a forecast was from the score, in items, counting how sure it was (continuous"
        " ranked probability score); 'plain' takes the share right so far as it is",
    ),
)


def build(base: Base, today: date, *, pass_mark: float | None, pass_sd: float | None) -> Report:
    """The score with its ranges, the chance of passing, what each area adds, the cheapest marks."""
    risk = Risk(base, today)
    outlook = exam_outlook(base, risk.history)
    if outlook is None:
        return _report(base, today, [Text(text=too_little(base))])
    pmf = np.asarray(outlook.pmf)
    facts = [*_ranges(pmf), *_passing(base.exam, pmf, pass_mark, pass_sd)]
    blocks: list[Block] = [Facts(key="score", facts=tuple(facts)), _raw(pmf), *_both_rounds(base)]
    blocks += [*_areas(risk, mean_score(pmf)), *_cheapest(base, today, risk)]
    blocks += [*_backtest(outlook.past), *_reserve(base)]
    return _report(base, today, blocks)


def too_little(base: Base) -> str:
    """Why there is no forecast yet."""
    answers = len(base.attempts)
    return f"Too little to say: {counted(answers, 'answer')} so far, {LEAST_ANSWERS} are needed."


def _report(base: Base, today: date, blocks: list[Block]) -> Report:
    return Report(
        name="forecast",
        title=f"What to expect of {base.exam.name}",
        right=day_line(today, base.exam.date),
        blocks=tuple(blocks),
        cites=("dawid1984", "gneiting2007"),
        terms=(*OWN_TERMS, *TERMS),
    )


def _ranges(pmf: NDArray[np.float64]) -> list[tuple[str, str, object, Kind]]:
    items = len(pmf) - 1
    mean = mean_score(pmf)
    found: list[tuple[str, str, object, Kind]] = [
        (
            "mean_count",
            "Expected score",
            f"{mean:.0f} of {items} ({100 * mean / items:.0f} %)",
            "text",
        )
    ]
    for row in score_ranges(pmf):
        share, span = f"{100 * row.level:.0f}", f"{row.low_count}-{row.high_count}"
        found.append((f"range_{share}", f"Likely range, {share} in 100", span, "text"))
    return found


def _raw(pmf: NDArray[np.float64]) -> Facts:
    """The same as plain numbers, for JSON."""
    found: list[tuple[str, str, object, Kind]] = [
        ("mean_marks", "mean", mean_score(pmf), "marks"),
        ("item_count", "items", len(pmf) - 1, "count"),
    ]
    for row in score_ranges(pmf):
        for name, count in (("low", row.low_count), ("high", row.high_count)):
            key = f"{name}_{100 * row.level:.0f}_count"
            found.append((key, key, count, "count"))
    return Facts(key="figures", facts=tuple(found), quiet=True)


def _passing(
    exam: Exam, pmf: NDArray[np.float64], pass_mark: float | None, pass_sd: float | None
) -> list[tuple[str, str, object, Kind]]:
    known = pass_mark_of(exam, pass_mark, pass_sd)
    if known is None:
        return [("pass_fraction", "Chance of passing", "no pass mark given (pass_mark:)", "text")]
    mark, spread = known
    chance = pass_fraction(pmf, mark, spread)
    unsure = f" give or take {100 * spread:.0f}" if spread else ""
    label = f"Chance of reaching {100 * mark:.0f} %{unsure}"
    return [("pass_fraction", label, chance, "fraction")]


def _both_rounds(base: Base) -> list[Block]:
    """First encounters and repeats side by side, and why they differ."""
    met: set[str] = set()
    counts = [[0, 0], [0, 0]]
    for attempt in base.attempts:
        again = attempt.question in met
        met.add(attempt.question)
        counts[again][0] += attempt.right
        counts[again][1] += 1
    first, again_ = counts
    if not again_[1]:
        return []
    said = (
        f"Right on questions met for the first time: {100 * first[0] / first[1]:.0f} % of"
        f" {first[1]}; on questions met before: {100 * again_[0] / again_[1]:.0f} % of"
        f" {again_[1]}. The second figure is flattered by recognition, and the exam's questions"
        " will be new, so the forecast takes that out."
    )
    return [Text(text=said)]


def _areas(risk: Risk, mean: float) -> list[Block]:
    """What each area adds, from the same figures as the standing report."""
    rows = [
        (row.area.id, row.area.item_count, row.area.item_count - row.marks, row.marks)
        for row in risk.area_standings()
        if row.area.item_count
    ]
    columns = (
        Column(key="area", label="Area", kind="area"),
        Column(key="item_count", label="Items", kind="count"),
        Column(key="right_marks", label="Adds", kind="marks"),
        Column(key="marks", label="At risk", kind="marks"),
    )
    table = Table(key="areas", columns=columns, rows=tuple(rows), title="What each area adds")
    added = sum(right for _, _, right, _ in rows)
    if round(added) == round(mean):
        return [table]
    said = (
        f"The areas add up to {added:.0f}; the expected score also allows that recognition"
        " flatters you less or more."
    )
    return [table, Text(text=said, quiet=True)]


def _cheapest(base: Base, today: date, risk: Risk) -> list[Block]:
    """The notes whose reading wins most for each minute, until five marks are won."""
    effect = reading_effect(base, risk.tracker.chances.tolist())
    notes = {note.id: note for note in base.notes}
    offers = []
    for row in judge(base, today, risk):
        if row.marks > 0:
            seconds = reading_seconds(notes[row.note], base.study)
            offers.append((row.marks * effect.fraction, seconds, row))
    offers.sort(key=lambda offer: (-offer[0] / offer[1], offer[2].note))
    won, spent, count = 0.0, 0, 0
    by_area: dict[str, float] = {}
    for gain, seconds, row in offers:
        if won >= CHEAPEST_MARKS:
            break
        won, spent, count = won + gain, spent + seconds, count + 1
        by_area[row.area] = by_area.get(row.area, 0.0) + gain
    if not count:
        return [Text(text="No note carries marks at risk, so no cheapest marks can be named.")]
    best = sorted(by_area.items(), key=lambda entry: (-entry[1], entry[0]))[:4]
    where = ", ".join(f"{base.exam.area_name(area) or 'no area'} {gain:.1f}" for area, gain in best)
    head = "The five cheapest extra marks" if won >= CHEAPEST_MARKS else "All that notes can add"
    said = (
        f"{head}: {counted(count, 'note')} to read, {spent / 60:.0f} minutes, for"
        f" {in_marks(won)}; most in {where}."
    )
    return [Text(text=said)]


def _backtest(past: tuple[Backtest, ...]) -> list[Block]:
    if not past:
        return [Text(text="No paper sat yet, so this forecast is untested on you.", quiet=True)]
    columns = (
        Column(key="paper", label="Paper", kind="source"),
        Column(key="item_count", label="Items", kind="count"),
        Column(key="mean", label="Forecast", kind="number"),
        Column(key="range", label="8 in 10"),
        Column(key="score_count", label="Score", kind="count"),
        Column(key="error", label="Error", kind="number"),
        Column(key="plain_error", label="Plain", kind="number"),
    )
    rows = tuple(
        (
            row.name,
            row.item_count,
            round(row.mean, 1),
            f"{row.low}-{row.high}",
            row.score,
            round(row.crps, 1),
            round(row.plain_crps, 1),
        )
        for row in past
    )
    inside = sum(row.low <= row.score <= row.high for row in past)
    title = "Your past papers, each forecast from the answers before it"
    said = f"The score lay in the range of 8 in 10 for {inside} of {len(past)}."
    if len(past) < 5:
        said += " Too few papers to say how well the ranges hold for you."
    return [Table(key="papers", columns=columns, rows=rows, title=title), Text(text=said)]


def _reserve(base: Base) -> list[Block]:
    """What the reserve showed once drawn, or why to keep one."""
    drawn = _reserve_answers(base)
    if drawn[1]:
        span = wilson(drawn[0], drawn[1])
        said = (
            f"Your reserve: {drawn[0]} right of {drawn[1]} never met before"
            f" ({100 * span.low:.0f} to {100 * span.high:.0f} %), the most honest figure here."
        )
        return [Text(text=said)]
    if not base.study.reserve_count:
        return []
    said = (
        f"Keep about {base.study.reserve_count} questions out of both rounds (reserve: in"
        " study.yaml) and draw them late: missbook draw 100 --reserve."
    )
    return [Text(text=said, quiet=True)]


def _reserve_answers(base: Base) -> tuple[int, int]:
    """Right and tried, of second-round answers to drawn questions never met before."""
    drawn = {row.question: row.at for row in base.draws}
    met: set[str] = set()
    right = tried = 0
    for attempt in base.attempts:
        fresh = attempt.question not in met
        met.add(attempt.question)
        at = drawn.get(attempt.question)
        if fresh and at is not None and at <= attempt.at and attempt.round != "first":
            right, tried = right + attempt.right, tried + 1
    return right, tried
