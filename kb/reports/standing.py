"""Where you stand in each area, most marks at risk first.

Each standing comes with its likely range. It is judged from your own answers alone; an answer to
a question you have met before is compared with that question's own record.
"""

from collections import Counter
from collections.abc import Sequence
from datetime import date

from kb.core.model import Attempt, Base
from kb.core.wording import listed
from kb.presentation.report_model import Block, Column, Option, Report, Table, Text, day_line
from kb.presentation.terms import LIKELY, span_text
from kb.reports.forecast import expected_text, untouched
from kb.stats.between_areas import spread_between
from kb.stats.forecast import item_counts, refusal, rights_left_out
from kb.stats.marks_at_risk import AreaStanding, Risk, risk_of
from kb.stats.trend import Trend, trends

OPTIONS = (
    Option(name="area", kind="area", help="Only this area."),
    Option(
        name="compare_days",
        kind="int",
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
    Column(key="area", label="Area", kind="area"),
    Column(key="standing_fraction", label="Standing", kind="fraction"),
    Column(key="low_fraction", label="Low", kind="fraction", quiet=True),
    Column(key="high_fraction", label="High", kind="fraction", quiet=True),
    Column(key="range", label="Likely", kind="number"),
    Column(key="tried_count", label="Answers", kind="count"),
    Column(key="right_count", label="Right", kind="count", quiet=True),
    Column(key="change_fraction", label="Change", kind="fraction", quiet=True),
    Column(key="change_low_fraction", label="Low", kind="fraction", quiet=True),
    Column(key="change_high_fraction", label="High", kind="fraction", quiet=True),
    Column(key="change", label="Change"),
    Column(key="item_count", label="In exam", kind="count", quiet=True),
    Column(key="marks", label="At risk", kind="marks"),
)


def build(base: Base, today: date, *, area: str | None, compare_days: int) -> Report:
    """One row for each area of the blueprint."""
    risk = risk_of(base, today)
    fault = rights_left_out(base)
    changes = trends(base.attempts, today, compare_days)
    areas = [row for row in risk.area_standings() if area in (None, "", row.area.id)]
    rows = tuple(_row(row, changes.get(row.area.id), risk.speaks) for row in areas)
    blocks: list[Block] = [Table(key="areas", columns=COLUMNS, rows=rows)]
    if fault:
        blocks = [Text(text=f"No standing: {fault}")]
    elif not base.attempts:
        text = "No answer in the log yet, so every area shows the same guess."
        blocks.insert(0, Text(text=text))
    elif not area:
        blocks += [*_in_all(base, risk), *_between(base), *_cautions(areas)]
        blocks += untouched(risk)
    return Report(
        name="standing",
        title="Where you stand",
        right=day_line(today, base.exam.date),
        blocks=tuple(blocks),
        cites=("kleinman1973", "newcombe1998b"),
        terms=TERMS,
    )


def _row(row: AreaStanding, trend: Trend | None, in_marks: bool) -> tuple[object, ...]:
    return (
        row.area.id,
        row.mean,
        row.likely.low,
        row.likely.high,
        span_text(row.likely),
        row.tried_count,
        row.right_count,
        trend.change if trend else None,
        trend.low if trend else None,
        trend.high if trend else None,
        f"{100 * trend.change:+.0f} ({trend.word})" if trend else None,
        row.area.item_count,
        row.marks if in_marks else None,
    )


def _in_all(base: Base, risk: Risk) -> list[Block]:
    """The expected score of the forecast, where there is one."""
    if refusal(base):
        return []
    expected = expected_text(risk.ability.score(item_counts(base.exam)))
    return [Text(text=f"Over the whole exam: about {expected} on questions new to you.")]


def _between(base: Base) -> list[Block]:
    """Whether the areas differ by more than chance; if not, their order means little."""
    shares = _first_shares(base).values()
    spread = spread_between([right for right, _ in shares], [tried for _, tried in shares])
    if spread is None:
        return []
    if round(100 * spread.sd_fraction) and spread.beyond_chance:
        return []
    text = (
        "On questions new to you, chance alone could make your areas differ as they do: read little"
        " into their order."
    )
    return [Text(text=text, quiet=True)]


def _cautions(areas: Sequence[AreaStanding]) -> list[Block]:
    few = [r.area.name for r in areas if r.area.item_count and 0 < r.tried_count < SURE_COUNT]
    text = f"Fewer than {SURE_COUNT} answers, so judged partly by your other areas: {listed(few)}."
    return [Text(text=text, quiet=True)] if few else []


def _first_shares(base: Base) -> dict[str, tuple[int, int]]:
    """Answers to new questions by area: right, and all."""
    first: dict[str, Attempt] = {}
    for attempt in base.attempts:
        if attempt.area:
            first.setdefault(attempt.question, attempt)
    tried = Counter(attempt.area for attempt in first.values())
    right = Counter(attempt.area for attempt in first.values() if attempt.right)
    return {area: (right[area], count) for area, count in tried.items()}
