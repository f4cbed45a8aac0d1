"""Why you miss, by area and week: knowledge or exam technique.

Counts the reasons given with misses: unknown, forgotten, misread, two-left, switched, rushed.
"""

from datetime import date

from kb.core.answers import Answers
from kb.core.model import Attempt, Base
from kb.presentation.report_model import (
    Block,
    Column,
    Kind,
    Option,
    Report,
    Table,
    Text,
    paragraphs,
)
from kb.presentation.terms import LIKELY, span_text
from kb.reports.sitting import changes
from kb.stats.reasons import TECHNIQUE, Share, by_area, by_week, reason_shares, technique_share

OPTIONS = (
    Option("area", "area", help="Only misses of this area."),
    Option("weeks", "int", default=6, least=1, unit="n", help="How many weeks to list."),
)
TERMS = (
    ("likely", LIKELY),
    ("knowledge", "unknown, forgotten, or two options left: reading and notes help"),
    ("technique", "misread, switched or rushed: reading notes does not help"),
)
LEAST = 10


def build(base: Base, today: date, *, area: str | None, weeks: int) -> Report:
    """Shares with likely ranges; then technique by area and week, and changed answers."""
    answers = Answers.of(base.attempts)
    told = ~(answers.equals("reason", "") & answers.equals("first", ""))
    attempts = answers.only(told & answers.equals("area", area) if area else told)
    shares = reason_shares(attempts)
    blocks: list[Block] = []
    if not shares:
        text = "No miss has a reason yet: write one after it on a sheet, such as 41 x misread."
        blocks = paragraphs(text)
    else:
        technique = technique_share(attempts)
        if technique is not None:
            blocks.append(Text(_summary(technique)))
        blocks.append(_reasons(shares))
        if not area:
            blocks.append(_technique("by_area", "Area", "area", by_area(attempts)))
        recent = dict(list(by_week(attempts).items())[-max(1, weeks) :])
        blocks.append(_technique("by_week", "Week of", "date", recent))
    blocks += paragraphs(changes(attempts))
    return Report("Why you miss", tuple(blocks), terms=TERMS, cites=("wilson1927",))


def _summary(technique: Share) -> str:
    return (
        f"{100 * technique.fraction:.0f}% of the {technique.total_count:,} misses with a reason"
        f" were exam technique (likely {span_text(technique.interval)}); no note will fix those."
    )


def _reasons(shares: tuple[Share, ...]) -> Table:
    columns = (
        Column("reason", "Reason", "word"),
        Column("kind", "Kind"),
        Column("count", "Misses", "count"),
        Column("fraction", "Share", "fraction"),
        Column("likely", "Likely", "number"),
    )
    rows = []
    for share in shares:
        kind = "technique" if share.reason in TECHNIQUE else "knowledge"
        likely = span_text(share.interval)
        rows.append((share.reason, kind, share.count, share.fraction, likely))
    return Table("reasons", columns, tuple(rows))


def _technique(
    key: str,
    label: str,
    kind: Kind,
    groups: dict[str, tuple[Attempt, ...]] | dict[date, tuple[Attempt, ...]],
) -> Table:
    """Technique's share of each group; groups with few misses are counted but not judged."""
    rows = []
    for name, misses in groups.items():
        share = technique_share(misses)
        judged: tuple[float | None, str] = (None, "too few to say")
        if share is not None and share.total_count >= LEAST:
            judged = (share.fraction, span_text(share.interval))
        rows.append((name or "no area", len(misses), *judged))
    columns = (
        Column("group", label, kind),
        Column("count", "Misses", "count"),
        Column("technique_fraction", "Technique", "fraction"),
        Column("likely", "Likely", "number"),
    )
    return Table(key, columns, tuple(rows))
