"""Which papers and mocks are left for the last weeks.

And when the others were sat.

A question of a paper that a bank showed before is no longer a fair test; such ones are counted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.core.ids import QuestionId
from kb.core.wording import counted
from kb.presentation.report_model import Block, Column, Report, Table, Text, day_line
from kb.stats.sitting import find_sittings

if TYPE_CHECKING:
    from datetime import date

    from kb.core.model import Base
    from kb.core.settings import Source

OPTIONS = ()
COLUMNS = (
    Column(key="paper", label="Paper", kind="source"),
    Column(key="kind", label="Kind"),
    Column(key="item_count", label="Items", kind="count"),
    Column(key="sat", label="Sat", kind="date"),
    Column(key="fraction", label="Score", kind="fraction"),
    Column(key="met_count", label="Met before", kind="count"),
    Column(key="fresh_fraction", label="Score on the rest", kind="fraction"),
)


def build(base: Base, today: date) -> Report:
    """Papers left first, then those sat, each with the questions met before."""
    sources = [source for source in base.study.sources if source.kind in ("paper", "mock")]
    sat = {sitting.name: sitting for sitting in find_sittings(base)}
    shared = _shared_with_banks(base)
    rows = []
    for source in sources:
        sitting = sat.get(source.id)
        met: frozenset[QuestionId] = shared.get(source.id, frozenset())
        fraction, day, fresh = None, None, None
        if sitting is not None:
            day, fraction = sitting.day, sitting.fraction
            first = min(answer.at for answer in sitting.answers)
            before = {a.question for a in base.attempts if a.at < first} | met
            met = frozenset(a.question for a in sitting.answers if a.question in before)
            rest = [a for a in sitting.answers if a.question not in before]
            fresh = sum(a.right for a in rest) / len(rest) if rest and met else None
        count = source.item_count or (sitting.item_count if sitting else 0)
        rows.append((source.id, source.kind, count, day, fraction, len(met), fresh))
    rows.sort(key=lambda row: (row[3] is not None, row[3] or today, row[0]))
    left = [row for row in rows if row[3] is None]
    blocks: list[Block] = [
        Table(
            key="papers",
            columns=COLUMNS,
            rows=tuple(rows),
            empty="No paper is declared: add one to 'sources' in study.yaml, kind: paper.",
        )
    ]
    if rows:
        said = f"{counted(len(left), 'paper')} left of {len(rows)}."
        if left and not any(row[1] == "mock" for row in left):
            said += " No mock is among them."
        blocks.append(Text(text=said))
    return Report(
        name="papers",
        title="Papers left and papers sat",
        right=day_line(today, base.exam.date),
        blocks=tuple(blocks),
    )


def _shared_with_banks(base: Base) -> dict[str, frozenset[QuestionId]]:
    """Questions of each paper that were met as bank items, by the ranges declared as `shares`."""
    met = {attempt.question for attempt in base.attempts}
    found: dict[str, frozenset[QuestionId]] = {}
    for source in base.study.sources:
        questions = _met(source, met)
        if questions:
            found[source.id] = questions
    return found


def _met(source: Source, met: set[QuestionId]) -> frozenset[QuestionId]:
    pairs = (
        (
            QuestionId(f"{source.id}:{item}"),
            QuestionId(f"{share.source}:{share.first + item - share.own_first}"),
        )
        for share in source.shares
        for item in range(share.own_first, share.own_first + share.last - share.first + 1)
    )
    return frozenset(own for own, other in pairs if other in met)
