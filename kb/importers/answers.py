"""A table of the answers of one timed paper -> attempts without ids."""

from dataclasses import replace
from datetime import datetime, timedelta

from kb.core.errors import FormatError, Place
from kb.core.ids import QuestionId
from kb.core.model import Attempt
from kb.core.settings import Exam, Study
from kb.importers.column_mapping import Columns, guess_columns
from kb.importers.table_reader import Grid
from kb.importers.table_rows import TableRows

NEEDED = ("item", "chosen", "key")
KEPT = (*NEEDED, "first", "seconds", "certainty", "area")
MOST_OVER = 1.25
"""Seconds that add up to a quarter more than the paper lasts are a slip, not a slow paper."""


def parse_answers(
    grid: Grid, exam: Exam, study: Study, sitting: str, at: datetime
) -> tuple[Attempt, ...]:
    """The answers of a paper that began `at` a moment, a row for each item; only `item`, `chosen`
    and `key` are needed. `sitting` is the name of the paper, and the source of its items.

    Raises:
        FormatError: A column or a key is missing, a cell is not understood, an item appears twice,
            there are more answers than items, or the times cannot add up.
    """
    columns = _columns(grid)
    for row in grid.rows:
        item, key = ([*row.cells[columns[name] :], ""][0] for name in ("item", "key"))
        if not key:
            place, hint = Place(grid.path, row.line), "fill in the right option"
            raise FormatError(f"item {item} has no key", hint, place)
    day = at.date()
    rows = TableRows(
        grid=grid, columns=columns, exam=exam, study=study, source=sitting, today=day, day=day
    )
    found = rows.answers()
    for problem in found.problems:
        message = problem.message.partition(";")[0]
        raise FormatError(message, problem.hint or "correct it in the file", problem.place)
    answers: dict[str, Attempt] = {}
    clock = 0.0
    for draft in found.drafts:
        item = draft.question.partition(":")[2]
        if item in answers:
            message, hint = f"question {item} appears twice", "delete one of the two lines"
            raise FormatError(message, hint, draft.place)
        clock += draft.seconds or 0.0
        moment = at + timedelta(seconds=round(clock) if clock else len(answers))
        question = QuestionId(f"{sitting}:{item}")
        answers[item] = replace(draft, question=question, at=moment, round="paper", sitting=sitting)
    _check_within(len(answers), clock, exam, grid.path)
    return tuple(answers.values())


def _columns(grid: Grid) -> Columns:
    """The columns of a paper; one called Time has seconds, since the hour of an answer is none."""
    if not grid.rows:
        raise FormatError("no answers", "one line for each item", Place(grid.path, 1))
    columns = guess_columns(grid.header, [row.cells for row in grid.rows])
    if "seconds" not in columns and "time" in columns:
        columns["seconds"] = columns["time"]
    lacking = [name for name in NEEDED if name not in columns]
    if lacking:
        message = f"the first line has no column {', '.join(lacking)}"
        hint = "name the columns item, chosen, key, and if kept first, seconds, certainty, area"
        raise FormatError(message, hint, Place(grid.path, 1))
    return {name: at for name, at in columns.items() if name in KEPT}


def _check_within(count: int, seconds: float, exam: Exam, path: str) -> None:
    if count > exam.item_count:
        message = f"{count} answers, more than the {exam.item_count} items of the exam"
        raise FormatError(message, "one paper at a time", Place(path))
    allowed = exam.paper_count * exam.paper_minutes
    if seconds / 60 > MOST_OVER * allowed:
        message = f"the times add up to {seconds / 60:.0f} minutes; the paper has {allowed}"
        raise FormatError(message, "give seconds for each item, not a clock", Place(path))
