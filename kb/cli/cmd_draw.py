"""Draw questions at random for a mixed session."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from kb.cli.call import Call, with_call
from kb.cli.params import Number, Whole, say
from kb.core.errors import QueryError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from kb.core.ids import QuestionId


@click.command(name="draw")
@click.argument("count", type=Whole(1, 10000), metavar="N", default=50)
@click.option("--source", "sources", multiple=True, metavar="SOURCE", help="Only this source.")
@click.option("--seed", default="", metavar="WORD", help="The same seed draws the same.")
@click.option("--by-blueprint", is_flag=True, help="Each area by its questions in the exam.")
@click.option(
    "--missed-share",
    "missed_fraction",
    type=Number(0, 1),
    default=0.0,
    metavar="SHARE",
    help="So much of the draw from missed questions that are due, such as 0.3.",
)
@click.option("--again", is_flag=True, help="Let questions that were repeated come again.")
@click.option("--reserve", is_flag=True, help="From the questions held back.")
@click.option("--list", "listed", is_flag=True, help="With --reserve: list them all, draw none.")
@click.option("--dry-run", is_flag=True, help="Draw without recording it.")
@with_call
def command(
    call: Call, listed: bool, dry_run: bool, **wish: int | str | float | tuple[str, ...]
) -> None:
    """Draw N questions at random from your banks.

    Their areas are hidden; 50 if N is not given. Questions repeated before do not come again, and
    those held back stay so, unless you ask. What was drawn and not answered within a week may be
    drawn again. The draw is recorded in the log; the first one also writes down which questions
    are held back.
    """
    from kb.services.drawing import Wish, draw_questions, held_back, write_reserve

    wished = Wish(**wish)  # type: ignore[arg-type]
    session = call.session
    if listed:
        if not wished.reserve:
            raise QueryError("--list goes with --reserve", hint="missbook draw --reserve --list")
        if not dry_run:
            write_reserve(session)
        kept, used = held_back(session)
        total = f"{len(kept)} held back" + (f"; {used} used already" if used else "")
        call.answer({"questions": kept, "used_count": used}, *_columns(kept), total)
        return
    drawn = draw_questions(session, wished, record=not dry_run)
    mixed, missed = drawn.mixed, drawn.missed_count
    call.answer(
        {
            "draw": drawn.name,
            "seed": drawn.seed,
            "recorded": not dry_run,
            "pool_count": drawn.pool_count,
            "missed_count": missed,
            "questions": drawn.questions,
            "longest_run": mixed.longest,
            "usual_run": mixed.usual,
            "high_run": mixed.high,
        },
        *_columns(drawn.questions),
        "",
        f"Longest run of one area: {mixed.longest}.",
        f"Chance gives {mixed.usual} in the middle, at most {mixed.high} in 95 of 100 draws.",
    )
    if call.as_json:
        return
    if len(drawn.questions) < wished.count:
        say(f"only {len(drawn.questions)} questions were left to draw")
    if waiting := drawn.waiting_count:
        say(f"{waiting} drawn in the last week are not answered yet; they are not drawn again")
    recorded = "not recorded" if dry_run else f"recorded as {drawn.name}"
    before = f", {missed} of them missed before" if missed else ""
    say(f"drawn from {drawn.pool_count} questions with seed {drawn.seed}{before}; {recorded}")


def _columns(questions: Sequence[QuestionId]) -> list[str]:
    """Lines of as many questions as fit."""
    width = max(map(len, questions), default=0) + 2
    count = max(1, 80 // width)
    rows = (questions[start : start + count] for start in range(0, len(questions), count))
    return ["".join(question.ljust(width) for question in row).rstrip() for row in rows]
