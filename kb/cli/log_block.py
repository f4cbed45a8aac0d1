"""Log a block of questions done in one go."""

from datetime import date

import click

from kb.cli.call import Call, with_call
from kb.cli.logged import checked_day, day_option, log_and_show, repeat_option
from kb.cli.params import Number, OneOf
from kb.core.errors import QueryError
from kb.core.ids import ROUND_OF, ROUNDS
from kb.core.lookup import source_to_log
from kb.importers.block import SPAN, block_drafts, ended_at, parse_items, timed_as_logged


@click.command(name="block")
@click.argument("source")
@click.argument("items", metavar="NUMBERS")
@click.option("--wrong", multiple=True, metavar="NUMBERS", help="Those missed, such as 43,50-52.")
@click.option("--blank", multiple=True, metavar="NUMBERS", help="Questions not answered.")
@click.option("--guessed", multiple=True, metavar="NUMBERS", help="Questions right by a guess.")
@click.option("--area", default="", metavar="AREA", help="Their area. Default: from study.yaml.")
@click.option(
    "--took", "minutes", type=Number(0.1, 1440), metavar="MINUTES", help="How long it took."
)
@click.option("--round", "round_", type=OneOf(ROUNDS), help="Which round it belongs to.")
@day_option
@repeat_option
@with_call
def command(
    call: Call,
    source: str,
    items: str,
    area: str,
    minutes: float | None,
    round_: str | None,
    day: date | None,
    again: bool,
    **codes: tuple[str, ...],
) -> None:
    """Log a run of questions: all right except those you name.

    Such as: missbook log block north 1-40 --wrong 3,17
    """
    if SPAN.fullmatch(source.partition(",")[0]) and not SPAN.fullmatch(items.partition(",")[0]):
        hint = f"write the source first: missbook log block {items} {source}"
        raise QueryError(f"'{source}' is not a source", hint=hint)
    session = call.session
    drafts = block_drafts(
        session.study,
        source_to_log(session.base, source),
        parse_items(items, "NUMBERS"),
        {name: _items(name, texts) for name, texts in codes.items()},
        ended_at(checked_day(session, day), session.now),
        area=session.exam.area(area).id if area else "",
        minutes=minutes,
        round_given=ROUND_OF[round_ or ""],
    )
    drafts = timed_as_logged(drafts, session.whole.attempts)
    log_and_show(call, drafts, title=f"block {source} {items}", again=again)


def _items(name: str, texts: tuple[str, ...]) -> tuple[int, ...]:
    """The numbers of an option that may be given more than once."""
    text = ",".join(filter(None, texts))
    return parse_items(text, f"--{name}") if text else ()
