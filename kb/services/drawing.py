"""Draw questions at random and record the draw; write down once which are held back."""

from collections import Counter
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from operator import itemgetter

from kb.core.errors import NotFoundError, nearest
from kb.core.ids import QuestionId, Round, digest
from kb.core.model import Drawn
from kb.formats.side_logs import DRAWS, HELD_BACK
from kb.planning.held_back import bank_questions, choose_held_back, kept_unseen
from kb.planning.missed import missed_questions
from kb.planning.sampling import draw, draw_by_area, pool_of, unanswered
from kb.services.note_drafting import check_name
from kb.services.session import Session
from kb.storage import attempt_store

NONE_LEFT = "to draw questions once more: --allow-repeats; or declare the source's `items`"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wish:
    """What is to be drawn: how many questions, of which sources (all banks if none is named), and
    which share of them from missed questions that are due. Without a seed, one is made up.
    """

    count: int
    sources: tuple[str, ...] = ()
    seed: str = ""
    by_blueprint: bool = False
    missed_fraction: float = 0.0
    allow_repeats: bool = False
    held_back: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Draw:
    """A draw. `waiting_count` questions of earlier draws were not answered when it was made."""

    draw: str
    seed: str
    questions: tuple[QuestionId, ...]
    missed_count: int
    pool_count: int
    waiting_count: int


def draw_questions(session: Session, wish: Wish, *, record: bool) -> Draw:
    """Draw questions for a mixed session, and record the draw unless told not to.

    Raises:
        NotFoundError: A source is not declared, or no question is left.
        QueryError: The seed, which is recorded, may identify a patient.
    """
    check_name(wish.seed)
    sources = _declared(session, wish.sources)
    if record:
        write_held_back(session)
    base, today = session.base, session.today
    pool = pool_of(base, today, sources=sources, again=wish.allow_repeats, held_back=wish.held_back)
    areas = bank_questions(session.study, sources)
    due = _due(session, areas) if wish.missed_fraction and not wish.held_back else set()
    if not pool and not due:
        raise NotFoundError("no question is left to draw in this round", hint=NONE_LEFT)
    seed = wish.seed or digest("draw", session.now.isoformat(), session.device)
    missed = draw(sorted(due), round(wish.missed_fraction * wish.count), f"missed {seed}")
    pool = tuple(question for question in pool if question not in due)
    left = wish.count - len(missed)
    rest: tuple[QuestionId, ...] = ()
    if wish.by_blueprint:
        weights = {area.id: area.item_count for area in session.exam.areas}
        past = Counter(areas[row.question] for row in base.draws if row.question in areas)
        rest = draw_by_area(pool, areas, weights, left, seed, past)
    rest = rest or draw(pool, left, seed)
    chosen = draw((*missed, *rest), wish.count, f"order {seed}") if missed else rest
    drawn = Draw(
        draw="d-" + digest("drawn", seed, session.now.isoformat(), *chosen)[:10],
        seed=seed,
        questions=chosen,
        missed_count=len(missed),
        pool_count=len(pool),
        waiting_count=len(unanswered(base, today)),
    )
    if record:
        _record(session, drawn.draw, "second", seed, chosen)
    return drawn


def write_held_back(session: Session) -> None:
    """Write down which questions are held back, once; nothing if that was done or none is."""
    if session.whole.held_back or session.as_of is not None:
        return
    chosen = choose_held_back(session.base)
    name = "h-" + digest("reserve", session.now.isoformat(), *chosen)[:10]
    if chosen:
        _record(session, name, "paper", "blueprint", chosen, held_back=True)
        session.reload()


def held_back(session: Session) -> tuple[list[QuestionId], int]:
    """The questions held back, by source and number, and how many others have been used."""
    kept = kept_unseen(session.base)
    used = len(set(session.base.held_back) - kept)
    return sorted(kept, key=lambda q: (q.partition(":")[0], len(q), q)), used


def by_source(questions: Iterable[QuestionId]) -> list[tuple[str, list[str]]]:
    """The numbers of questions in their order, in runs of one source."""
    parts = (question.partition(":") for question in questions)
    return [(source, [row[2] for row in run]) for source, run in groupby(parts, itemgetter(0))]


def _due(session: Session, known: Collection[QuestionId]) -> set[QuestionId]:
    """Missed questions, of those known, that are due today."""
    waiting = missed_questions(session.base, session.exam.date)
    return {m.question for m in waiting if m.due <= session.today and m.question in known}


def _declared(session: Session, names: tuple[str, ...]) -> tuple[str, ...]:
    """The ids of the sources named.

    Raises:
        NotFoundError: One is not declared.
    """
    sources = tuple(name.strip().casefold() for name in names)
    for source in sources:
        if session.study.source(source) is None:
            known = [one.id for one in session.study.sources]
            raise NotFoundError(f"no source called '{source}'", hint=nearest(source, known))
    return sources


def _record(
    session: Session,
    name: str,
    round_: Round,
    seed: str,
    chosen: Sequence[QuestionId],
    *,
    held_back: bool = False,
) -> None:
    """Write a draw into the log, or the questions held back into theirs."""
    rows = tuple(
        Drawn(at=session.now, draw=name, round=round_, seed=seed, position=i, question=q)
        for i, q in enumerate(chosen, start=1)
    )
    log = HELD_BACK if held_back else DRAWS
    attempt_store.append_side_log(session.root, session.device, log, *rows)
