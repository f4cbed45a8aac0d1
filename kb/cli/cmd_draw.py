"""Draw questions at random for the mixed round."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from kb.cli.params import Whole, common, open_session, say

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from kb.core.ids import QuestionId, Round
    from kb.planning.sampling import Mixed


@click.command(name="draw")
@click.argument("count", type=Whole(1, 10000), metavar="N")
@click.option("--source", "sources", multiple=True, metavar="SOURCE", help="Only this source.")
@click.option("--seed", default="", metavar="WORD", help="The same seed draws the same.")
@click.option("--by-blueprint", is_flag=True, help="Each area by its items in the exam.")
@click.option("--again", is_flag=True, help="Let questions of this round come again.")
@click.option("--reserve", is_flag=True, help="From the questions kept unseen.")
@click.option("--dry-run", is_flag=True, help="Draw without recording it.")
@common
@click.pass_context
def command(
    ctx: click.Context,
    count: int,
    sources: tuple[str, ...],
    seed: str,
    by_blueprint: bool,
    again: bool,
    reserve: bool,
    dry_run: bool,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Draw N questions at random from your banks, their areas hidden.

    What was drawn or answered in the second round does not come again, and the questions kept
    unseen stay so, unless you ask. The draw is recorded in the log.
    """
    from kb.core.errors import NotFoundError, nearest
    from kb.core.ids import digest
    from kb.core.model import Drawn
    from kb.planning.reserve import bank_questions
    from kb.planning.sampling import draw, draw_by_area, mixed, pool_of
    from kb.presentation.render import to_json
    from kb.storage import attempt_store

    session = open_session(ctx, base_folder, as_of)
    round_: Round = "second"
    sources = tuple(source.strip().casefold() for source in sources)
    for source in sources:
        if session.study.source(source) is None:
            known = [one.id for one in session.study.sources]
            raise NotFoundError(f"no source called '{source}'", hint=nearest(source, known))
    pool = pool_of(session.base, round_, sources=sources, again=again, reserve=reserve)
    if not pool:
        hint = "give --again to draw them once more, or declare items: for the source"
        raise NotFoundError("no question is left to draw in this round", hint=hint)
    seed = seed or digest("draw", session.now.isoformat(), session.device)
    areas = bank_questions(session.study, sources)
    weights = {area.id: area.item_count for area in session.exam.areas}
    chosen = (
        draw_by_area(pool, areas, weights, count, seed) if by_blueprint else draw(pool, count, seed)
    )
    how = mixed([areas[question] for question in chosen], seed)
    name = "d-" + digest("drawn", seed, session.now.isoformat(), *chosen)[:10]
    if not dry_run:
        drawn = tuple(
            Drawn(at=session.now, draw=name, round=round_, seed=seed, position=i, question=q)
            for i, q in enumerate(chosen, start=1)
        )
        attempt_store.append_draw(session.root, session.device, drawn)
    if as_json:
        content = {
            "draw": name,
            "seed": seed,
            "recorded": not dry_run,
            "pool_count": len(pool),
            "questions": chosen,
            "longest_run": how.longest,
            "usual_run": how.usual,
            "high_run": how.high,
        }
        click.echo(to_json(content), nl=False)
        return
    _show(chosen, how)
    if len(chosen) < count:
        say(f"only {len(chosen)} questions were left to draw")
    kept = "not recorded" if dry_run else f"recorded as {name}"
    say(f"drawn from {len(pool)} questions with seed {seed}; {kept}")


def _show(chosen: Sequence[QuestionId], how: Mixed) -> None:
    width = max(len(question) for question in chosen) + 2
    columns = max(1, 80 // width)
    for start in range(0, len(chosen), columns):
        row = chosen[start : start + columns]
        click.echo("".join(question.ljust(width) for question in row).rstrip())
    click.echo(f"\nLongest run of one area: {how.longest}.")
    click.echo(f"Chance gives {how.usual} in the middle, at most {how.high} in 95 of 100 draws.")
