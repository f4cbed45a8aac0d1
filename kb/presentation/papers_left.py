"""Papers and mocks that are left, and how far each paper is still a fair test.

A question of a paper that a bank showed before is no longer a fair test; such ones are counted.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from kb.core.ids import QuestionId
from kb.core.model import Base
from kb.core.settings import Source
from kb.core.wording import counted
from kb.presentation.report_model import Block, Column, Table, Text
from kb.stats.sitting import Sitting

COLUMNS = (
    Column(key="paper", label="Still to sit", kind="source"),
    Column(key="kind", label="Kind", quiet=True),
    Column(key="item_count", label="Questions", kind="count"),
    Column(key="met_count", label="Met before", kind="count"),
    Column(key="planned", label="Planned"),
)
ANSWERED = "no: half of it or more was answered"
"""Why a paper that was not logged as a sitting is in no plan."""
RULE_OF_THUMB_PARTS = 15
"""Parts of 100 sat before an exam (common practice, no source): advice, never planned."""


def papers_left(base: Base, sat: Collection[str], planned: Mapping[str, str]) -> list[Block]:
    """The papers and mocks declared and not yet sat.

    Args:
        base: All there is.
        sat: Ids of those sat, also of those of which only the score is known.
        planned: When each is planned, or why it is not.
    """
    papers = [source for source in base.study.sources if source.kind in ("paper", "mock")]
    if not papers:
        text = "No paper is declared: add one to 'sources' in study.yaml, with kind: paper."
        return [Text(text=text, quiet=True)]
    met = {attempt.question for attempt in base.attempts}
    rows = tuple(
        (
            source.id,
            source.kind,
            source.item_count,
            len(_shown_before(source, met)),
            planned.get(source.id, ANSWERED),
        )
        for source in sorted(papers, key=lambda source: source.id)
        if source.id not in sat
    )
    text = f"{counted(len(rows), 'paper')} left of {len(papers)}." if rows else "No paper is left."
    if rows and not any(kind == "mock" for _, kind, *_ in rows):
        text += " No mock is among them."
    blocks: list[Block] = [Table(key="left", columns=COLUMNS, rows=rows, empty=""), Text(text=text)]
    if len(papers) * base.exam.paper_count < RULE_OF_THUMB_PARTS:
        thumb = f"About {RULE_OF_THUMB_PARTS} parts of 100 before an exam are usual."
        blocks.append(Text(text=thumb, quiet=True))
    return blocks


def fairness(base: Base, sittings: Sequence[Sitting]) -> list[Block]:
    """One sentence for each paper sat of which some questions had been met before."""
    met = {attempt.question for attempt in base.attempts}
    found: list[Block] = []
    for sitting in sittings:
        source = base.study.source(sitting.name)
        shown = _shown_before(source, met) if source else frozenset()
        first = min(answer.at for answer in sitting.answers)
        before = {answer.question for answer in base.attempts if answer.at < first} | shown
        rest = [answer for answer in sitting.answers if answer.question not in before]
        count = len(sitting.answers) - len(rest)
        if count:
            text = f"{sitting.name}: {counted(count, 'question')} met before"
            if rest:
                share = sum(answer.right for answer in rest) / len(rest)
                text += f"; {100 * share:.0f}% right on the rest"
            found.append(Text(text=f"{text}."))
    return found


def _shown_before(source: Source, met: Collection[QuestionId]) -> frozenset[QuestionId]:
    """Questions of a paper that were met as bank questions, by the ranges declared as `shares`."""
    pairs = (
        (
            QuestionId(f"{source.id}:{item}"),
            QuestionId(f"{share.source}:{share.first + item - share.own_first}"),
        )
        for share in source.shares
        for item in range(share.own_first, share.own_first + share.last - share.first + 1)
    )
    return frozenset(own for own, other in pairs if other in met)
