"""The score to expect, its range and the chance of passing.

Needs a hundred answers. Answers to questions met before are compared with each
question's own record, so it does not matter which of them you try again.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from kb.core.answers import Answers
from kb.core.wording import capital, counted, listed
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
    paragraphs,
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
        "pass_mark", "float", help="Pass mark as a fraction (0.61 for 61%). Default: the exam's."
    ),
    Option("pass_sd", "float", help="Standard deviation of the pass mark, as a fraction (0.02)."),
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
    blocks: list[Block] = [Text(refusal(base))]
    if outlook is not None:
        pmf = np.asarray(outlook.pmf)
        facts = (*_ranges(pmf), _passing(base.exam, pmf, pass_mark, pass_sd))
        blocks = [Facts("score", facts), _raw(pmf), *paragraphs(_both_rounds(base))]
        blocks += [_areas(risk), *paragraphs(untouched(risk), *_sources(risk))]
        blocks += [*_backtest(base, outlook.past), *_reserve(base)]
    return Report(
        f"Forecast: {base.exam.name}",
        tuple(blocks),
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
    return Facts("figures", tuple(found), quiet=True)


def _passing(
    exam: Exam, pmf: NDArray[np.float64], pass_mark: float | None, pass_sd: float | None
) -> Fact:
    known = pass_mark_of(exam, pass_mark, pass_sd)
    if known is None:
        return "pass_fraction", "Chance of passing", "no pass mark given (pass_mark:)", "text"
    mark, spread = known
    chance = pass_fraction(pmf, mark, spread)
    unsure = f", +/-{100 * spread:.0f}" if spread else ""
    label = f"Chance of passing (pass mark {100 * mark:.0f}%{unsure})"
    return "pass_fraction", label, chance, "fraction"


def _both_rounds(base: Base) -> str:
    """New questions and repeats side by side, and why they differ; empty without repeats."""
    answers = Answers.of(base.attempts)
    new = int(answers.new.sum())
    right, again = int((answers.new & answers.rights).sum()), len(answers) - new
    if not again:
        return ""
    right_again = int(answers.rights.sum()) - right
    return (
        f"Right on questions new to you: {100 * right / new:.0f}% of {new:,}; on questions met"
        f" before: {100 * right_again / again:.0f}% of {again:,}. The forecast allows for which"
        " questions you tried again, and for your having met them before."
    )


def _areas(risk: Risk) -> Table:
    """What each area adds, by the same standing as the report of that name."""
    rows = tuple(
        (row.area.id, row.area.item_count, row.area.item_count - row.marks, row.marks)
        for row in risk.area_standings()
        if row.area.item_count
    )
    columns = (
        Column("area", "Area", "area"),
        Column("item_count", "In exam", "count"),
        Column("right_marks", "Adds", "marks"),
        Column("marks", "At risk", "marks"),
    )
    return Table("areas", columns, rows, title="What each area adds")


def _sources(risk: Risk) -> list[str]:
    """Which sources are harder or easier than the papers, or that no paper says how hard.

    A source is named when the likely range of the difference leaves out none.
    """
    base, ability = risk.base, risk.ability
    if not ability.on_papers:
        return [
            "No paper or mock is logged, so nothing says how well this forecast fits you, or"
            " whether the exam is harder than your questions: sit one, and log it or its score."
        ]
    usual = sum(row.exam_fraction * row.mean for row in risk.area_standings())
    found = []
    for effect in ability.sources:
        points = 100 * (usual - 1 / (1 + (1 - usual) / usual * math.exp(-effect.mean)))
        if abs(effect.mean) > LIKELY_SPREADS * effect.sd and abs(points) >= 1:
            word = "harder" if points > 0 else "easier"
            name = capital(base.study.source_name(effect.source))
            far = counted(round(abs(points)), "point")
            found.append(f"{name} is {word} than your papers by about {far}.")
    return found


def untouched(risk: Risk) -> str:
    """The areas without an answer, and what is assumed of them; empty if there are none."""
    unmet = risk.untouched()
    names = listed([row.area.name for row in unmet])
    share = f"{100 * unmet[0].mean:.0f}%, the level of your other areas." if unmet else ""
    return f"No answer logged yet in {names}: taken at {share}" if unmet else ""


def _backtest(base: Base, past: tuple[Backtest, ...]) -> list[Block]:
    if not past:
        sat = len(paper_rows(base)) + len(paper_totals(base))
        text = (
            f"{counted(sat, 'paper')} sat, with fewer than {LEAST_ANSWERS} answers before: the"
            f" forecast uses {'it' if sat == 1 else 'them'}, but no past paper shows how well it"
            " fits you."
        )
        return [Text(text, quiet=True)] if sat else []
    columns = (
        Column("paper", "Paper", "source"),
        Column("item_count", "Questions", "count"),
        Column("mean", "Forecast", "count"),
        Column("range", "Likely", "number"),
        Column("plain_mean", "Simple average", "count"),
        Column("score_count", "Score", "count"),
        Column("error", "Missed by", "number", quiet=True),
        Column("plain_error", "Simple average missed by", "number", quiet=True),
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
    return [Table("papers", columns, rows, title=title), Text(text)]


def _reserve(base: Base) -> list[Block]:
    """What held-back questions showed once drawn, or why to hold some back."""
    drawn = {row.question: row.at for row in base.draws}
    answers = Answers.of(base.attempts)
    known = answers.new & answers.where("question", lambda question: question in drawn)
    own = [a for a in answers.only(known) if a.round != "first" and drawn[a.question] <= a.at]
    if own:
        right, tried = sum(a.right for a in own), len(own)
        return paragraphs(
            f"Held-back questions: {right} right of {tried}, all new to you"
            f" ({span_text(likely_range(right, tried))}), the most honest figure here."
        )
    kept = len(kept_unseen(base)) if base.study.held_back_count else 0
    text = (
        f"{counted(kept, 'question of your banks is', 'questions of your banks are')} held back. A"
        " hundred of them under time, three weeks and one week before the exam, are the most honest"
        " check: missbook draw 100 --held-back."
    )
    return [Text(text, quiet=True)] if kept else []
