"""Every paper and mock in one table: what is planned first, then what was sat, in order of date.

A question of a paper that a bank showed before is no longer a fair test; such ones are counted.
"""

from collections.abc import Collection, Mapping, Sequence
from datetime import date

from kb.core.answers import Answers
from kb.core.ids import QuestionId
from kb.core.model import Base, Score
from kb.core.settings import Source
from kb.core.wording import counted
from kb.presentation.report_model import Block, Column, Table, paragraphs
from kb.stats.sitting import Sitting

COLUMNS = (
    Column("paper", "Paper", "source"),
    Column("item_count", "Questions", "count"),
    Column("sat", "Sat", "date"),
    Column("right_count", "Right", "count", quiet=True),
    Column("score_fraction", "Score", "fraction"),
    Column("planned", "Planned"),
)
ANSWERED = "not planned: half of it or more was answered"
"""Why a paper that was not logged as a sitting is in no plan."""
RULE_OF_THUMB_PARTS = 15
"""Parts of 100 sat before an exam (common practice, no source): advice, never planned."""


def papers_table(
    base: Base,
    sittings: Sequence[Sitting],
    bare: Mapping[str, Sequence[Score]],
    planned: Mapping[str, str],
) -> list[Block]:
    """The papers declared or sat.

    `bare` are the scores of those of which nothing else is known; `planned` says when each is
    planned, or why it is not, in the order to show.
    """
    declared = {s.id: s for s in base.study.sources if s.is_paper}
    results = [_result(s.day, s.name, s.right_count, s.item_count) for s in sittings]
    results += [_bare_row(name, scores) for name, scores in bare.items()]
    sat = {name: row for day, name, row in sorted(results, key=lambda result: result[:2])}
    ahead = [name for name in planned if name in declared]
    ahead += [name for name in sorted(declared) if name not in sat and name not in ahead]
    rows: list[tuple[object, ...]] = []
    for name in dict.fromkeys([*ahead, *sat]):
        count = declared[name].item_count if name in declared else None
        result = sat.get(name, (count, *[None] * 3))
        why = ANSWERED if name in ahead and name not in sat else None
        rows.append((name, *result, planned.get(name, why)))
    empty = "No paper sat yet. To record one: missbook sitting --help"
    text = ""
    if not declared:
        text = "No paper is declared: add one to 'sources' in study.yaml, with kind: paper."
    elif len(declared) * base.exam.paper_count < RULE_OF_THUMB_PARTS:
        text = f"About {RULE_OF_THUMB_PARTS} parts of 100 before an exam are usual."
    unfair = _fairness(base, sittings, [declared[n] for n in ahead if n not in sat])
    table = Table("papers", COLUMNS, tuple(rows), empty=empty)
    return [table, *paragraphs(text, quiet=True), *paragraphs(*unfair)]


Result = tuple[date, str, tuple[object, ...]]
"""The day of a paper, its name, and its cells from the number of questions to the score."""


def _result(day: date, name: str, right: int, asked: int) -> Result:
    return day, name, (asked, day, right, right / asked)


def _bare_row(name: str, scores: Sequence[Score]) -> Result:
    scores = [score for score in scores if not score.area] or scores  # no area counts twice
    right = sum(score.right_count for score in scores)
    asked = sum(score.item_count for score in scores)
    return _result(max(score.at.date() for score in scores), name, right, asked)


def _fairness(base: Base, sittings: Sequence[Sitting], unsat: Sequence[Source]) -> list[str]:
    """One sentence for each paper of which some questions had been met before."""
    met = Answers.of(base.attempts).distinct("question")
    texts: list[str] = []
    for source in unsat:
        count = len(_shown_before(source, met))
        texts += [f"{source.id}: {counted(count, 'question')} met before."] if count else []
    for sitting in sittings:
        own = base.study.source(sitting.name)
        shown = _shown_before(own, met) if own else frozenset()
        first = min(answer.at for answer in sitting.answers)
        before = {answer.question for answer in base.attempts if answer.at < first} | shown
        rest = [answer for answer in sitting.answers if answer.question not in before]
        count = len(sitting.answers) - len(rest)
        if count:
            text = f"{sitting.name}: {counted(count, 'question')} met before"
            if rest:
                share = sum(answer.right for answer in rest) / len(rest)
                text += f"; {100 * share:.0f}% right on the rest"
            texts.append(f"{text}.")
    return texts


def _shown_before(source: Source, met: Collection[QuestionId]) -> frozenset[QuestionId]:
    """Questions of a paper that were met as bank questions, by the ranges declared as `shares`."""
    return frozenset(
        QuestionId(f"{source.id}:{share.own_first + step}")
        for share in source.shares
        for step in range(share.last - share.first + 1)
        if f"{share.source}:{share.first + step}" in met
    )
