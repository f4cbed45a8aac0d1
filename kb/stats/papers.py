"""What a base says of its answers beyond the log: which belong to papers, which fell on nights."""

from dataclasses import replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

import numpy as np

from kb.core.answers import Answers
from kb.core.duties import duty_on, is_night
from kb.core.model import Base
from kb.stats.ability import Ability, Total, learn_ability
from kb.stats.history import History


def paper_rows(base: Base) -> dict[str, tuple[int, ...]]:
    """The rows of each paper or mock sat, by name, in order of its first answer.

    An answer belongs to a paper when its round is `paper`, or when it is the first to a question of
    a paper or a mock, whatever was answered in between. The name is the sitting; without one, the
    source or the day.
    """
    papers = {source.id for source in base.study.sources if source.is_paper}
    found: dict[str, list[int]] = {}
    answers = Answers.of(base.attempts)
    fresh = answers.new & answers.where("source", lambda source: source in papers)
    wanted = np.flatnonzero(fresh | answers.equals("round", "paper"))
    for row, attempt in zip(wanted.tolist(), answers.take(wanted), strict=True):
        own = attempt.source if attempt.source in papers else attempt.day.isoformat()
        found.setdefault(attempt.sitting or own, []).append(row)
    return {name: tuple(rows) for name, rows in found.items()}


def paper_totals(base: Base) -> dict[str, tuple[Total, ...]]:
    """The scores of each paper whose single answers are not in the log, by sitting.

    Scores by area are preferred to the score of the whole.
    """
    if not base.scores:
        return {}
    answers = Answers.of(base.attempts)
    answered = answers.distinct("sitting") - {""}
    found: dict[str, list[Total]] = {}
    for score in base.scores:
        if score.sitting not in answered and score.item_count:
            total = Total(
                row=int(np.searchsorted(answers.moments, score.at.timestamp())),
                area=str(score.area),
                right_count=score.right_count,
                item_count=score.item_count,
            )
            found.setdefault(score.sitting, []).append(total)
    return {
        name: tuple(own if not any(t.area for t in own) else [t for t in own if t.area])
        for name, own in found.items()
    }


def tired_rows(base: Base) -> frozenset[int]:
    """The rows answered on the day of a night duty, or on the day after it, by the rota."""
    rota = base.study.rota
    if rota is None:
        return frozenset()
    answered = Answers.of(base.attempts).days
    days = set(np.unique(answered).tolist())
    zone, before = ZoneInfo(base.study.timezone), {day - 1 for day in days}
    nights = [d for d in days | before if is_night(duty_on(rota, date.fromordinal(d), zone))]
    tired = [*nights, *(night + 1 for night in nights)]
    return frozenset(np.flatnonzero(np.isin(answered, tired)).tolist())


def known_before(base: Base, moment: datetime) -> Base:
    """The base with only the answers given, and the papers scored, before a moment."""
    answers = Answers.of(base.attempts)
    answered = answers.distinct("sitting")
    return replace(
        base,
        attempts=answers.only(answers.moments < moment.timestamp()),
        scores=tuple(s for s in base.scores if s.at < moment and s.sitting not in answered),
    )


def ability_of(base: Base, history: History) -> Ability:
    """Ability after all answers of a base, with its papers and rota; `history` has the same ones.

    Source: see `learn_ability`.
    """
    rows = {row for own in paper_rows(base).values() for row in own}
    totals = [total for own in paper_totals(base).values() for total in own]
    counts = {str(area.id): area.item_count for area in base.exam.areas}
    return learn_ability(history, rows, totals, counts, tired_rows(base))
