"""Record a timed paper or mock, and see what cost the marks."""

from datetime import date, datetime, time
from zoneinfo import ZoneInfo

import click

from kb.cli.call import Call, explained, with_call
from kb.cli.logged import checked_day, day_option, log_and_show
from kb.core.errors import QueryError
from kb.core.ids import NO_AREA, whole_number
from kb.core.wording import counted
from kb.importers.block import ended_at
from kb.services.answer_logging import AreaScore, log_scores, paper_to_log


@click.command(name="sitting")
@click.argument("name", required=False)
@click.option("--answers", metavar="FILE", help="Record a table of its answers.")
@click.option("--score", "scores", multiple=True, metavar="AREA=R/N", help="Record a bare score.")
@click.option("--official", is_flag=True, help="It was the official mock.")
@day_option
@explained
@with_call
def command(
    call: Call,
    name: str | None,
    answers: str | None,
    scores: tuple[str, ...],
    official: bool,
    day: date | None,
) -> None:
    """Record a timed paper, and see what cost the marks.

    Without NAME, lists all papers, planned or sat; with it, shows one paper's score, pace,
    changed answers and certainty.

    Record one first with --answers (columns item, chosen, key and, if kept, first, seconds,
    certainty, area), or with --score, once for each area or as all=142/200.
    """
    if answers or scores:
        day = checked_day(call.session, day) or call.session.today
        if not name:
            raise QueryError("which paper was it?", hint="such as: missbook sitting paper-5 ...")
        name = paper_to_log(call.session, name)
        if answers:
            _record_answers(call, name, answers, day)
        if scores:
            _record_scores(call, name, scores, official, day)
        return
    call.say_problems()
    call.show(call.session.report("sitting", {"name": name or ""}))


def _record_answers(call: Call, name: str, file: str, day: date) -> None:
    from kb.importers.answers import parse_answers
    from kb.importers.table_reader import read_table
    from kb.services.user_files import read_file

    session = call.session
    grid = read_table(read_file(file), file)
    began = datetime.combine(day, time(9), ZoneInfo(session.study.timezone))
    drafts = parse_answers(grid, session.exam, session.study, name, began)
    log_and_show(call, drafts, title=f"sitting {name}")


def _record_scores(
    call: Call, name: str, scores: tuple[str, ...], official: bool, day: date
) -> None:
    session = call.session
    rows: list[AreaScore] = []
    for text in scores:
        area, equals, figures = text.partition("=")
        right, items = (whole_number(part.strip()) for part in figures.partition("/")[::2])
        if not equals or right is None or not items or right > items:
            hint = "write an area, an equals sign, right/asked, such as cardiology=12/19"
            raise QueryError(f"--score: '{text}' is not a score", hint=hint)
        whole = area.strip().casefold() == "all"
        place = NO_AREA if whole else session.exam.area(area).id
        rows.append(AreaScore(area=place, right_count=right, item_count=items))
    count = log_scores(session, name, rows, ended_at(day, session.now), official=official)
    call.answer(
        {"sitting": name, "added_count": count},
        f"{counted(count, 'score')} of {name} added. To see it: missbook sitting {name}"
        if count
        else f"{name} has that score already.",
    )
