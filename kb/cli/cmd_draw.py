"""Draw questions at random for a mixed session."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import click

from kb.cli.params import Number, Whole, common, open_session, say

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from kb.core.ids import QuestionId, Round
    from kb.planning.sampling import Mixed
    from kb.services.session import Session

NONE_LEFT = "give --again to draw them once more, or declare items: for the source"


@click.command(name="draw")
@click.argument("count", type=Whole(1, 10000), metavar="N", default=50)
@click.option("--source", "sources", multiple=True, metavar="SOURCE", help="Only this source.")
@click.option("--seed", default="", metavar="WORD", help="The same seed draws the same.")
@click.option("--by-blueprint", is_flag=True, help="Each area by its questions in the exam.")
@click.option(
    "--missed-share",
    type=Number(0, 1),
    default=0.0,
    metavar="SHARE",
    help="So much of the draw from missed questions that are due, such as 0.3.",
)
@click.option("--again", is_flag=True, help="Let questions that were repeated come again.")
@click.option("--reserve", is_flag=True, help="From the questions held back.")
@click.option("--list", "listed", is_flag=True, help="With --reserve: list them all, draw none.")
@click.option("--dry-run", is_flag=True, help="Draw without recording it.")
@common
@click.pass_context
def command(
    ctx: click.Context,
    count: int,
    sources: tuple[str, ...],
    seed: str,
    by_blueprint: bool,
    missed_share: float,
    again: bool,
    reserve: bool,
    listed: bool,
    dry_run: bool,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Draw N questions at random from your banks.

    Their areas are hidden; 50 if N is not given. Questions repeated before do not come again, and
    those held back stay so, unless you ask. What was drawn and not answered within a week may be
    drawn again. The draw is recorded in the log; the first one also writes down which questions
    are held back.
    """
    from kb.core.errors import NotFoundError, QueryError
    from kb.core.ids import digest
    from kb.planning.reserve import bank_questions
    from kb.planning.sampling import draw, mixed, pool_of, unanswered, with_missed
    from kb.presentation.render import to_json

    session = open_session(ctx, base_folder, as_of)
    base, today = session.base, session.today
    sources = _known(session, sources)
    if listed and not reserve:
        raise QueryError("--list goes with --reserve", hint="missbook draw --reserve --list")
    if not dry_run:
        _write_reserve(session)
        base = session.base
    if listed:
        _list_reserve(session, as_json=as_json)
        return
    pool = pool_of(base, today, sources=sources, again=again, reserve=reserve)
    areas = bank_questions(session.study, sources)
    due = _due(session, sources) if missed_share and not reserve else set()
    if not pool and not due:
        raise NotFoundError("no question is left to draw in this round", hint=NONE_LEFT)
    seed = seed or digest("draw", session.now.isoformat(), session.device)
    missed, pool = with_missed(pool, due, count, missed_share, seed)
    left = count - len(missed)
    rest = _by_blueprint(session, pool, sources, left, seed) if by_blueprint else ()
    rest = rest or draw(pool, left, seed)
    chosen = draw((*missed, *rest), count, f"order {seed}") if missed else rest
    how = mixed([areas[question] for question in chosen], seed)
    name = "d-" + digest("drawn", seed, session.now.isoformat(), *chosen)[:10]
    before = len(unanswered(base, today))
    if not dry_run:
        _record(session, name, "second", seed, chosen)
    if as_json:
        click.echo(
            to_json(
                {
                    "draw": name,
                    "seed": seed,
                    "recorded": not dry_run,
                    "pool_count": len(pool),
                    "missed_count": len(missed),
                    "questions": chosen,
                    "longest_run": how.longest,
                    "usual_run": how.usual,
                    "high_run": how.high,
                }
            ),
            nl=False,
        )
        return
    _show(chosen, how)
    _say_left(len(chosen), count, before)
    kept = "not recorded" if dry_run else f"recorded as {name}"
    again_text = f", {len(missed)} of them missed before" if missed else ""
    say(f"drawn from {len(pool)} questions with seed {seed}{again_text}; {kept}")


def _due(session: Session, sources: tuple[str, ...]) -> set[QuestionId]:
    """Missed questions of these sources that are due today."""
    from kb.planning.missed import missed_questions
    from kb.planning.reserve import bank_questions

    areas = bank_questions(session.study, sources)
    waiting = missed_questions(session.base, session.exam.date)
    return {m.question for m in waiting if m.due <= session.today and m.question in areas}


def _by_blueprint(
    session: Session, pool: Sequence[QuestionId], sources: tuple[str, ...], count: int, seed: str
) -> tuple[QuestionId, ...]:
    """Each area by its share of the exam, over all draws of the log."""
    from kb.planning.reserve import bank_questions
    from kb.planning.sampling import draw_by_area

    areas = bank_questions(session.study, sources)
    weights = {area.id: area.item_count for area in session.exam.areas}
    past = Counter(areas[row.question] for row in session.base.draws if row.question in areas)
    return draw_by_area(pool, areas, weights, count, seed, past)


def _say_left(drawn: int, wanted: int, unanswered: int) -> None:
    """Warn that fewer were left than asked for, and of draws still to be answered."""
    if drawn < wanted:
        say(f"only {drawn} questions were left to draw")
    if unanswered:
        say(f"{unanswered} drawn in the last week are not answered yet; they are not drawn again")


def _known(session: Session, names: tuple[str, ...]) -> tuple[str, ...]:
    """The ids of the sources named.

    Raises:
        NotFoundError: One is not declared.
    """
    from kb.core.errors import NotFoundError, nearest

    sources = tuple(name.strip().casefold() for name in names)
    for source in sources:
        if session.study.source(source) is None:
            known = [one.id for one in session.study.sources]
            raise NotFoundError(f"no source called '{source}'", hint=nearest(source, known))
    return sources


def _write_reserve(session: Session) -> None:
    """Write down which questions are held back, once; nothing if that was done or none is."""
    from kb.core.ids import digest
    from kb.planning.reserve import choose_reserve

    if session.whole.reserve or session.as_of is not None:
        return
    chosen = choose_reserve(session.base)
    name = "reserve-" + digest("reserve", session.now.isoformat(), *chosen)[:10]
    if chosen:
        _record(session, name, "paper", "blueprint", chosen, reserve=True)
        session.reload()


def _record(
    session: Session,
    name: str,
    round_: Round,
    seed: str,
    chosen: Sequence[QuestionId],
    *,
    reserve: bool = False,
) -> None:
    """Write a draw into the log, or the questions held back into theirs."""
    from kb.core.model import Drawn
    from kb.storage import attempt_store

    rows = tuple(
        Drawn(at=session.now, draw=name, round=round_, seed=seed, position=i, question=q)
        for i, q in enumerate(chosen, start=1)
    )
    attempt_store.append_draw(session.root, session.device, rows, reserve=reserve)


def _list_reserve(session: Session, *, as_json: bool) -> None:
    """Every question held back, by source and number, and how many have been used."""
    from kb.planning.reserve import kept_unseen
    from kb.presentation.render import to_json

    kept = kept_unseen(session.base)
    ordered = sorted(kept, key=lambda q: (q.partition(":")[0], len(q), q))
    used = len(set(session.base.reserve) - kept)
    if as_json:
        click.echo(to_json({"questions": ordered, "used_count": used}), nl=False)
        return
    if ordered:
        _columns(ordered)
    click.echo(f"{len(ordered)} held back" + (f"; {used} used already" if used else ""))


def _columns(questions: Sequence[QuestionId]) -> None:
    width = max(len(question) for question in questions) + 2
    columns = max(1, 80 // width)
    for start in range(0, len(questions), columns):
        row = questions[start : start + columns]
        click.echo("".join(question.ljust(width) for question in row).rstrip())


def _show(chosen: Sequence[QuestionId], how: Mixed) -> None:
    _columns(chosen)
    click.echo(f"\nLongest run of one area: {how.longest}.")
    click.echo(f"Chance gives {how.usual} in the middle, at most {how.high} in 95 of 100 draws.")
