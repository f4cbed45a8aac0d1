"""The score to expect, its range and the chance of passing.

Needs a hundred answers. Answers to questions met before are compared with each
question's own record, so it does not matter which of them you try again.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from kb.core.wording import counted, listed
from kb.planning.held_back import kept_unseen
from kb.presentation.report_model import (
    Block,
    Column,
    Fact,
    Facts,
    Option,
    Report,
    Table,
    Text,
    day_line,
)
from kb.presentation.terms import TERMS, span_text
from kb.stats.ability import LIKELY_SPREADS
from kb.stats.forecast import (
    LEAST_ANSWERS,
    Backtest,
    exam_outlook,
    pass_fraction,
    pass_mark_of,
    refusal,
    score_ranges,
)
from kb.stats.marks_at_risk import risk_of
from kb.stats.papers import paper_rows, paper_totals
from kb.stats.proportions import LIKELY_LEVEL, likely_range
from kb.stats.score_distribution import mean_score

if TYPE_CHECKING:
    from datetime import date

    from numpy.typing import NDArray

    from kb.core.model import Base
    from kb.core.settings import Exam
    from kb.stats.marks_at_risk import Risk

OPTIONS = (
    Option(
        name="pass_mark",
        kind="float",
        help="Pass mark as a fraction (0.61 for 61%). Default: the exam's.",
    ),
    Option(
        name="pass_sd",
        kind="float",
        help="Standard deviation of the pass mark, as a fraction (0.02).",
    ),
)
OWN_TERMS = (
    (
        "likely range",
        "the score lies in it with the chance given, if the exam is like the questions you have"
        " answered and you go on as you are",
    ),
    ("recognition", "a question met before is easier to answer than a new one on the same fact"),
    ("simple average", "the score that your percentage right until then would have given"),
    ("adds", "questions of the area that you would get right"),
)


def build(base: Base, today: date, *, pass_mark: float | None, pass_sd: float | None) -> Report:
    """The score with its ranges, the chance of passing, what each area adds, the cheapest marks."""
    risk = risk_of(base, today)
    outlook = exam_outlook(base, risk.history, risk.ability)
    if outlook is None:
        return _report(base, today, [Text(text=refusal(base))])
    pmf = np.asarray(outlook.pmf)
    facts = [*_ranges(pmf), *_passing(base.exam, pmf, pass_mark, pass_sd)]
    blocks: list[Block] = [Facts(key="score", facts=tuple(facts)), _raw(pmf), *_both_rounds(base)]
    blocks += [*_areas(risk), *untouched(risk), *_sources(risk)]
    blocks += [*_backtest(base, outlook.past), *_reserve(base)]
    return _report(base, today, blocks)


def _report(base: Base, today: date, blocks: list[Block]) -> Report:
    return Report(
        name="forecast",
        title=f"Forecast: {base.exam.name}",
        right=day_line(today, base.exam.date),
        blocks=tuple(blocks),
        cites=("dawid1984", "gneiting2007"),
        terms=(*OWN_TERMS, *TERMS),
    )


def _ranges(pmf: NDArray[np.float64]) -> list[Fact]:
    found: list[Fact] = [("mean_count", "Expected score", expected_text(pmf), "text")]
    for row in score_ranges(pmf):
        share, span = f"{100 * row.level:.0f}", f"{row.low_count}-{row.high_count}"
        label = "Likely range" if row.level == LIKELY_LEVEL else "Range"
        found.append((f"range_{share}", f"{label} ({share}%)", span, "text"))
    return found


def expected_text(pmf: NDArray[np.float64]) -> str:
    """`141 of 200 (70%)`."""
    items, mean = len(pmf) - 1, mean_score(pmf)
    return f"{mean:.0f} of {items} ({100 * mean / items:.0f}%)"


def _raw(pmf: NDArray[np.float64]) -> Facts:
    """The same as plain numbers, for JSON."""
    found: list[Fact] = [
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
) -> list[Fact]:
    known = pass_mark_of(exam, pass_mark, pass_sd)
    if known is None:
        return [("pass_fraction", "Chance of passing", "no pass mark given (pass_mark:)", "text")]
    mark, spread = known
    chance = pass_fraction(pmf, mark, spread)
    unsure = f", +/-{100 * spread:.0f}" if spread else ""
    label = f"Chance of passing (pass mark {100 * mark:.0f}%{unsure})"
    return [("pass_fraction", label, chance, "fraction")]


def _both_rounds(base: Base) -> list[Block]:
    """New questions and repeats side by side, and why they differ."""
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
    text = (
        f"Right on questions new to you: {100 * first[0] / first[1]:.0f}% of {first[1]:,}; on"
        f" questions met before: {100 * again_[0] / again_[1]:.0f}% of {again_[1]:,}. The forecast"
        " allows for which questions you tried again, and for your having met them before."
    )
    return [Text(text=text)]


def _areas(risk: Risk) -> list[Block]:
    """What each area adds, by the same standing as the report of that name."""
    rows = [
        (row.area.id, row.area.item_count, row.area.item_count - row.marks, row.marks)
        for row in risk.area_standings()
        if row.area.item_count
    ]
    columns = (
        Column(key="area", label="Area", kind="area"),
        Column(key="item_count", label="In exam", kind="count"),
        Column(key="right_marks", label="Adds", kind="marks"),
        Column(key="marks", label="At risk", kind="marks"),
    )
    return [Table(key="areas", columns=columns, rows=tuple(rows), title="What each area adds")]


def _sources(risk: Risk) -> list[Block]:
    """Which sources are harder or easier than the papers, or that no paper says how hard.

    A source is named when the likely range of the difference leaves out none.
    """
    base, ability = risk.base, risk.ability
    if not ability.on_papers:
        text = (
            "No paper or mock is logged, so nothing says how well this forecast fits you, or"
            " whether the exam is harder than your questions: sit one, and log it or its score."
        )
        return [Text(text=text)]
    names = {source.id: source.name or source.id for source in base.study.sources}
    usual = sum(row.exam_fraction * row.mean for row in risk.area_standings())
    blocks: list[Block] = []
    for effect in ability.sources:
        points = 100 * (usual - _shifted(usual, effect.mean))
        if abs(effect.mean) > LIKELY_SPREADS * effect.sd and abs(points) >= 1:
            word = "harder" if points > 0 else "easier"
            name = names.get(effect.source, effect.source)
            far = counted(round(abs(points)), "point")
            blocks.append(Text(text=f"{name} is {word} than your papers by about {far}."))
    return blocks


def _shifted(chance: float, shift: float) -> float:
    return 1 / (1 + (1 - chance) / chance * math.exp(-shift))


def untouched(risk: Risk) -> list[Block]:
    """The areas without an answer, and what is assumed of them."""
    unmet = risk.untouched()
    if not unmet:
        return []
    share = f"{100 * unmet[0].mean:.0f}%"
    text = f"No answer logged yet in {listed([row.area.name for row in unmet])}: taken at {share},"
    return [Text(text=f"{text} the level of your other areas.")]


def _backtest(base: Base, past: tuple[Backtest, ...]) -> list[Block]:
    if not past:
        sat = len(paper_rows(base)) + len(paper_totals(base))
        text = (
            f"{counted(sat, 'paper')} sat, with fewer than {LEAST_ANSWERS} answers before: the"
            f" forecast uses {'it' if sat == 1 else 'them'}, but no past paper shows how well it"
            " fits you."
        )
        return [Text(text=text, quiet=True)] if sat else []
    columns = (
        Column(key="paper", label="Paper", kind="source"),
        Column(key="item_count", label="Questions", kind="count"),
        Column(key="mean", label="Forecast", kind="count"),
        Column(key="range", label="Likely", kind="number"),
        Column(key="plain_mean", label="Simple average", kind="count"),
        Column(key="score_count", label="Score", kind="count"),
        Column(key="error", label="Missed by", kind="number", quiet=True),
        Column(key="plain_error", label="Simple average missed by", kind="number", quiet=True),
    )
    rows = tuple(
        (
            row.name,
            row.item_count,
            round(row.mean, 1),
            f"{row.low}-{row.high}",
            round(row.plain_mean, 1),
            row.score,
            round(row.crps, 1),
            round(row.plain_crps, 1),
        )
        for row in past
    )
    inside = sum(row.low <= row.score <= row.high for row in past)
    title = "Past papers, each forecast from the answers before it"
    text = f"The score lay in the likely range for {inside} of {len(past)}."
    if len(past) < 5:
        text += " Too few papers to say how well the ranges hold for you."
    return [Table(key="papers", columns=columns, rows=rows, title=title), Text(text=text)]


def _reserve(base: Base) -> list[Block]:
    """What held-back questions showed once drawn, or why to hold some back."""
    drawn = _reserve_answers(base)
    if drawn[1]:
        text = (
            f"Held-back questions: {drawn[0]} right of {drawn[1]}, all new to you"
            f" ({span_text(likely_range(*drawn))}), the most honest figure here."
        )
        return [Text(text=text)]
    if not base.study.held_back_count:
        return []
    kept = len(kept_unseen(base))
    text = (
        f"{counted(kept, 'question')} of your banks {'is' if kept == 1 else 'are'} held back. A"
        " hundred of them under time, three weeks and one week before the exam, are the most honest"
        " check: missbook draw 100 --held-back."
    )
    return [Text(text=text, quiet=True)] if kept else []


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
