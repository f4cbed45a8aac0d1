"""Draw questions at random for a mixed session."""

import textwrap
from dataclasses import asdict
from itertools import chain

import click

from kb.cli.call import Call, with_call
from kb.cli.params import Number, Whole, say
from kb.core.errors import QueryError
from kb.core.wording import counted


@click.command(name="draw")
@click.argument("count", type=Whole(1, 10000), metavar="[N]", default=50)
@click.option("--source", "sources", multiple=True, metavar="SOURCE", help="Only this source.")
@click.option("--seed", default="", metavar="WORD", help="The same seed draws the same questions.")
@click.option("--by-blueprint", is_flag=True, help="From each area in proportion to the exam.")
@click.option(
    "--missed-share",
    "missed_fraction",
    type=Number(0, 1),
    default=0.0,
    metavar="SHARE",
    help="Fraction of the draw taken from missed questions that are due, such as 0.3.",
)
@click.option("--allow-repeats", is_flag=True, help="Draw from repeated questions too.")
@click.option("--held-back", is_flag=True, help="Draw from the questions held back.")
@click.option("--list", "listed", is_flag=True, help="With --held-back: list them all, draw none.")
@click.option("--dry-run", is_flag=True, help="Draw without recording it.")
@with_call
def command(
    call: Call, listed: bool, dry_run: bool, **wish: int | str | float | tuple[str, ...]
) -> None:
    """Draw N questions at random from your banks.

    Their areas are hidden; N is 50 by default. Questions you have repeated are not drawn again, nor
    are those held back, unless you ask. A question not answered within a week may be drawn again.
    The draw is recorded in the log; the first draw also records which questions are held back.
    """
    from kb.services.drawing import Wish, by_source, draw_questions, held_back, write_held_back

    wished = Wish(**wish)  # type: ignore[arg-type]
    session = call.session
    if listed:
        if not wished.held_back:
            raise QueryError(
                "--list goes with --held-back", hint="missbook draw --held-back --list"
            )
        if not dry_run:
            write_held_back(session)
        kept, used = held_back(session)
        total = f"{len(kept)} held back" + (f"; {used} used already" if used else "")
        rows = (_lines(f"{source}: {', '.join(own)}") for source, own in by_source(kept))
        call.answer({"questions": kept, "used_count": used}, *chain(*rows), total)
        return
    drawn = draw_questions(session, wished, record=not dry_run)
    width = max(map(len, drawn.questions), default=0) + 2
    columns = _lines("".join(question.ljust(width) for question in drawn.questions))
    call.answer({**asdict(drawn), "recorded": not dry_run}, *columns, "")
    if call.as_json:
        return
    if len(drawn.questions) < wished.count:
        say(f"Only {counted(len(drawn.questions), 'question')} left to draw.")
    if waiting := drawn.waiting_count:
        say(f"{waiting} drawn in the last week and not answered yet were left out.")
    before = f"; {drawn.missed_count} of them missed before" if drawn.missed_count else ""
    recorded = "; not recorded" if dry_run else ""
    say(f"Drawn from {drawn.pool_count:,} questions{before}{recorded}.")


def _lines(text: str) -> list[str]:
    """Lines of at most 80 characters in which no reference is broken in two."""
    return textwrap.wrap(text, 80, break_on_hyphens=False, break_long_words=False)
