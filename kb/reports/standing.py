"""Where you stand in each area, most marks at risk first.

Each standing comes with its likely range. It is judged from your own answers alone; an answer to
a question you have met before is compared with that question's own record.
"""

from collections.abc import Sequence
from datetime import date

from kb.core.answers import Answers
from kb.core.model import Base
from kb.core.wording import listed
from kb.presentation.report_model import Block, Column, Option, Report, Table, Text, paragraphs
from kb.presentation.terms import LIKELY, span_text
from kb.reports.forecast import expected_text, untouched
from kb.stats.between_areas import spread_between
from kb.stats.forecast import item_counts, refusal, rights_left_out
from kb.stats.marks_at_risk import AreaStanding, Risk, risk_of
from kb.stats.trend import Trend, trends

OPTIONS = (
    Option("area", "area", help="Only this area."),
    Option(
        "compare_days",
        "int",
        default=30,
        least=1,
        unit="days",
        help="Compare the last N days with the N before.",
    ),
)
SURE_COUNT = 20

TERMS = (
    (
        "standing",
        "your chance of getting right a question that is new to you, mostly from your recent"
        " answers; with few answers, partly from your other areas",
    ),
    ("likely", LIKELY),
    (
        "change",
        "percentage right on new questions in the last 30 days (or as many as you ask for), less"
        " that of as many days before, in points; 'up' or 'down' where chance alone is ruled out"
        " (95%)",
    ),
    ("in exam", "questions of the area in the exam"),
    ("at risk", "those questions, times your chance of missing one"),
)
COLUMNS = (
    Column("area", "Area", "area"),
    Column("standing_fraction", "Standing", "fraction"),
    Column("low_fraction", "Low", "fraction", quiet=True),
    Column("high_fraction", "High", "fraction", quiet=True),
    Column("range", "Likely", "number"),
    Column("tried_count", "Answers", "count"),
    Column("right_count", "Right", "count", quiet=True),
    Column("change_fraction", "Change", "fraction", quiet=True),
    Column("change_low_fraction", "Low", "fraction", quiet=True),
    Column("change_high_fraction", "High", "fraction", quiet=True),
    Column("change", "Change"),
    Column("item_count", "In exam", "count", quiet=True),
    Column("marks", "At risk", "marks"),
)


def build(base: Base, today: date, *, area: str | None, compare_days: int) -> Report:
    """One row for each area of the blueprint."""
    risk = risk_of(base, today)
    fault = rights_left_out(base)
    changes = trends(base.attempts, today, compare_days)
    areas = [row for row in risk.area_standings() if area in (None, "", row.area.id)]
    rows = tuple(_row(row, changes.get(row.area.id), risk.speaks) for row in areas)
    blocks: list[Block] = [Table("areas", COLUMNS, rows)]
    if fault:
        blocks = [Text(f"No standing: {fault}")]
    elif not base.attempts:
        text = "No answer in the log yet, so every area shows the same guess."
        blocks.insert(0, Text(text))
    elif not area:
        blocks += paragraphs(_in_all(base, risk))
        blocks += paragraphs(_between(base), _cautions(areas), quiet=True)
        blocks += paragraphs(untouched(risk))
    cites = ("kleinman1973", "newcombe1998b")
    return Report("Where you stand", tuple(blocks), cites=cites, terms=TERMS)


def _row(row: AreaStanding, trend: Trend | None, in_marks: bool) -> tuple[object, ...]:
    change: tuple[object, ...] = (None, None, None, None)
    if trend:
        said = f"{100 * trend.change:+.0f} ({trend.word})"
        change = (trend.change, trend.low, trend.high, said)
    likely, marks = row.likely, row.marks if in_marks else None
    return (
        *(row.area.id, row.mean, likely.low, likely.high, span_text(likely)),
        *(row.tried_count, row.right_count, *change, row.area.item_count, marks),
    )


def _in_all(base: Base, risk: Risk) -> str:
    """The expected score of the forecast, where there is one."""
    if refusal(base):
        return ""
    expected = expected_text(risk.ability.score(item_counts(base.exam)))
    return f"Over the whole exam: about {expected} on questions new to you."


def _between(base: Base) -> str:
    """Whether the areas differ by more than chance; if not, their order means little."""
    answers = Answers.of(base.attempts)
    answers = answers.only(~answers.equals("area", ""))
    tried = answers.counts("area", answers.new)
    right = answers.counts("area", answers.new & answers.rights)
    spread = spread_between([right[area] for area in tried], list(tried.values()))
    if spread is None or (round(100 * spread.sd_fraction) and spread.beyond_chance):
        return ""
    return (
        "On questions new to you, chance alone could make your areas differ as they do: read little"
        " into their order."
    )


def _cautions(areas: Sequence[AreaStanding]) -> str:
    few = [r.area.name for r in areas if r.area.item_count and 0 < r.tried_count < SURE_COUNT]
    text = f"Fewer than {SURE_COUNT} answers, so judged partly by your other areas: {listed(few)}."
    return text if few else ""
