"""What a base says of its answers beyond the log: which belong to papers, which fell on nights."""

from bisect import bisect_left
from dataclasses import replace
from datetime import date, datetime, time, timedelta

from kb.core.model import Base
from kb.core.settings import Rota
from kb.stats.ability import Ability, Total, learn_ability
from kb.stats.history import History

NIGHT_ENDS = time(4)


def paper_rows(base: Base) -> dict[str, tuple[int, ...]]:
    """The rows of each paper or mock sat, by name, in order of its first answer.

    An answer belongs to a paper when its round is `paper`, or when it is the first to a question of
    a paper or a mock, whatever was answered in between. The name is the sitting; without one, the
    source or the day.
    """
    papers = {source.id for source in base.study.sources if source.kind in ("paper", "mock")}
    found: dict[str, list[int]] = {}
    met: set[str] = set()
    for row, attempt in enumerate(base.attempts):
        fresh = attempt.question not in met
        met.add(attempt.question)
        if attempt.round == "paper" or (fresh and attempt.source in papers):
            own = attempt.source if attempt.source in papers else attempt.day.isoformat()
            found.setdefault(attempt.sitting or own, []).append(row)
    return {name: tuple(rows) for name, rows in found.items()}


def paper_totals(base: Base) -> dict[str, tuple[Total, ...]]:
    """The scores of each paper whose single answers are not in the log, by sitting.

    Scores by area are preferred to the score of the whole.
    """
    if not base.scores:
        return {}
    answered = {attempt.sitting for attempt in base.attempts if attempt.sitting}
    moments: list[datetime] = [attempt.at for attempt in base.attempts]
    found: dict[str, list[Total]] = {}
    for score in base.scores:
        if score.sitting not in answered and score.item_count:
            total = Total(
                row=bisect_left(moments, score.at),
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
    days = {attempt.day for attempt in base.attempts}
    tired = {day for day in days if _is_night(rota, day) or _is_night(rota, day - timedelta(1))}
    return frozenset(row for row, attempt in enumerate(base.attempts) if attempt.day in tired)


def _is_night(rota: Rota, day: date) -> bool:
    """Whether a duty of that day lasts into the small hours of the next."""
    week = rota.weeks[(day - rota.starts).days // 7 % len(rota.weeks)] if rota.weeks else ()
    name = dict(rota.exceptions).get(day) or (week[day.weekday()] if week else "")
    shift = next((shift for shift in rota.shifts if shift.name == name), None)
    if shift is None or shift.start is None or shift.end is None:
        return False
    return NIGHT_ENDS <= shift.end <= shift.start


def known_before(base: Base, moment: datetime) -> Base:
    """The base with only the answers given, and the papers scored, before a moment."""
    answered = {attempt.sitting for attempt in base.attempts}
    return replace(
        base,
        attempts=tuple(attempt for attempt in base.attempts if attempt.at < moment),
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
