"""Why you miss, by area and week: knowledge or exam technique.

Counts the reasons given with misses: unknown, forgotten, misread, two-left, switched, rushed.
"""

from datetime import date

from kb.core.model import Attempt, Base
from kb.core.wording import counted
from kb.presentation.report_model import Block, Column, Kind, Option, Report, Table, Text, day_line
from kb.presentation.terms import LIKELY, span_text
from kb.stats.reasons import TECHNIQUE, Share, by_area, by_week, reason_shares, technique_share
from kb.stats.sitting import changed_answers

OPTIONS = (
    Option(name="area", kind="area", help="Only misses of this area."),
    Option(name="weeks", kind="int", default=6, least=1, unit="n", help="How many weeks to list."),
)
TERMS = (
    ("likely", LIKELY),
    ("knowledge", "unknown, forgotten, or two options left: reading and notes help"),
    ("technique", "misread, switched or rushed: reading notes does not help"),
)
LEAST = 10


def build(base: Base, today: date, *, area: str | None, weeks: int) -> Report:
    """Shares with likely ranges; then technique by area and week, and changed answers."""
    attempts = [a for a in base.attempts if not area or a.area == area]
    shares = reason_shares(attempts)
    blocks: list[Block] = []
    if not shares:
        text = "No miss has a reason yet: write one after it on a sheet, such as 41 x misread."
        blocks.append(Text(text=text))
    else:
        technique = technique_share(attempts)
        if technique is not None:
            blocks.append(Text(text=_summary(technique)))
        blocks.append(_reasons(shares))
        if not area:
            blocks.append(_technique("by_area", "Area", "area", by_area(attempts)))
        recent = dict(list(by_week(attempts).items())[-max(1, weeks) :])
        blocks.append(_technique("by_week", "Week of", "date", recent))
    changed = changed_answers(attempts)
    if changed.count:
        worth = "made no difference"
        if changed.gain:
            verb = "won" if changed.gain > 0 else "lost"
            worth = f"{verb} {counted(abs(changed.gain), 'mark')}"
        text = (
            f"You changed {counted(changed.count, 'answer')}: {changed.wrong_to_right} to right,"
            f" {changed.right_to_wrong} from right to wrong. That {worth}."
        )
        blocks.append(Text(text=text))
    return Report(
        name="reasons",
        title="Why you miss",
        right=day_line(today, base.exam.date),
        blocks=tuple(blocks),
        terms=TERMS,
        cites=("wilson1927",),
    )


def _summary(technique: Share) -> str:
    return (
        f"{100 * technique.fraction:.0f}% of the {technique.total_count:,} misses with a reason"
        f" were exam technique (likely {span_text(technique.interval)}); no note will fix those."
    )


def _reasons(shares: tuple[Share, ...]) -> Table:
    columns = (
        Column(key="reason", label="Reason", kind="word"),
        Column(key="kind", label="Kind"),
        Column(key="count", label="Misses", kind="count"),
        Column(key="fraction", label="Share", kind="fraction"),
        Column(key="likely", label="Likely", kind="number"),
    )
    rows = tuple(
        (
            share.reason,
            "technique" if share.reason in TECHNIQUE else "knowledge",
            share.count,
            share.fraction,
            span_text(share.interval),
        )
        for share in shares
    )
    return Table(key="reasons", columns=columns, rows=rows)


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
        enough = share is not None and share.total_count >= LEAST
        rows.append(
            (
                name or "no area",
                len(misses),
                share.fraction if share and enough else None,
                span_text(share.interval) if share and enough else "too few to say",
            )
        )
    columns = (
        Column(key="group", label=label, kind=kind),
        Column(key="count", label="Misses", kind="count"),
        Column(key="technique_fraction", label="Technique", kind="fraction"),
        Column(key="likely", label="Likely", kind="number"),
    )
    return Table(key=key, columns=columns, rows=tuple(rows))
