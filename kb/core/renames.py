"""Names that changed: a log is never edited, so its old lines count under the new name."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from kb.core.ids import AreaId, QuestionId, RenameKind
from kb.core.model import Attempt, Base, Renamed


@dataclass(slots=True)
class Names:
    """What each name of the log is called now.

    An area or a source keeps its old name as an alias, unless that is declared again. A question
    is moved only in lines from before its bank was renumbered: later ones have the new number.
    """

    renamed: tuple[Renamed, ...]
    declared: frozenset[str]

    def plain(self, kind: RenameKind, name: str) -> str:
        """What an area, a source or a concept is called now."""
        for row in self.renamed:
            if row.kind == kind and row.old == name.casefold() and name not in self.declared:
                name = row.new
        return name

    def question(self, question: QuestionId, at: datetime) -> QuestionId:
        """What a question of a line of that moment is called now."""
        moved: set[datetime] = set()
        for row in self.renamed:
            source, _, item = question.partition(":")
            if row.kind == "source" and row.old == source and source not in self.declared:
                question = QuestionId(f"{row.new}:{item}")
            elif row.kind == "item" and row.old == question and at < row.at not in moved:
                # A whole bank is renumbered at once: 5 -> 7 and 7 -> 9 move each question once.
                moved.add(row.at)
                question = QuestionId(row.new)
        return question


def named_now(drafts: tuple[Attempt, ...], base: Base) -> Sequence[Attempt]:
    """Answers, in the same order, under the names that they will have in the base once logged."""
    return with_names(replace(base, attempts=drafts, dismissals=(), draws=(), scores=())).attempts


def with_names(base: Base) -> Base:
    """The base with its log under the names of now."""
    if not base.renamed:
        return base
    declared = {area.id for area in base.exam.areas} | {s.id for s in base.study.sources}
    names = Names(base.renamed, frozenset(declared))
    known: dict[tuple[QuestionId, tuple[datetime, ...]], QuestionId] = {}
    turns = sorted({row.at for row in names.renamed if row.kind == "item"})

    def question(old: QuestionId, at: datetime) -> QuestionId:
        key = old, tuple(turn for turn in turns if at < turn)
        if key not in known:
            known[key] = names.question(old, at)
        return known[key]

    def area_now(old: AreaId) -> AreaId:
        return AreaId(names.plain("area", old))

    def attempt(row: Attempt) -> Attempt:
        now = question(row.question, row.at)
        area = area_now(row.area)
        if now != row.question and row.area in ("", base.study.area_of(row.question)):
            # It came from the number, so the new number gives it.
            area = base.study.area_of(now) or area
        return replace(
            row,
            question=now,
            area=area,
            sitting=names.plain("source", row.sitting),
            concept=names.plain("concept", row.concept),
        )

    former = {
        (row.old, names.plain(row.kind, row.old))
        for row in base.renamed
        if row.kind in ("area", "source") and row.old not in declared
    }
    return replace(
        base,
        study=replace(base.study, former=tuple(sorted(former))),
        attempts=tuple(attempt(row) for row in base.attempts),
        dismissals=tuple(replace(r, question=question(r.question, r.at)) for r in base.dismissals),
        draws=tuple(replace(r, question=question(r.question, r.at)) for r in base.draws),
        scores=tuple(
            replace(r, sitting=names.plain("source", r.sitting), area=area_now(r.area))
            for r in base.scores
        ),
    )
