"""A table of the answers of one timed paper -> attempts without ids."""

from __future__ import annotations

import csv
import io
from dataclasses import replace
from datetime import datetime, timedelta
from typing import TYPE_CHECKING

from kb.core.errors import FormatError, NotFoundError, Place
from kb.core.ids import AreaId, AttemptId, Outcome, QuestionId, parse_question
from kb.core.model import Attempt
from kb.importers.table_reader import separator_of

if TYPE_CHECKING:
    from kb.core.settings import Exam

NAMES = {
    "item": ("item", "question", "number", "no", "q"),
    "chosen": ("chosen", "answer", "mine", "given"),
    "key": ("key", "correct", "right answer"),
    "first": ("first", "first answer", "before"),
    "seconds": ("seconds", "time", "secs", "s"),
    "certainty": ("certainty", "c"),
    "area": ("area", "topic"),
}
MOST_OVER = 1.25
"""Seconds that add up to a quarter more than the paper lasts are a slip, not a slow paper."""


def parse_answers(
    text: str, path: str, exam: Exam, sitting: str, at: datetime
) -> tuple[Attempt, ...]:
    """Read a CSV with a line for each item; only `item`, `chosen` and `key` are needed.

    Args:
        text: The file.
        path: How messages name it.
        exam: Its options, items and minutes bound what is possible.
        sitting: Name of the paper, and source of its items.
        at: When it began.

    Raises:
        FormatError: A column or a key is missing, an option is not one of the exam's, an item
            appears twice, there are more answers than items, or the times cannot add up.
    """
    lines = read_csv(text, path)
    columns = _columns(lines[0] if lines else [], path)
    options = [chr(ord("A") + number) for number in range(exam.option_count)]
    found: dict[QuestionId, Attempt] = {}
    clock = 0.0
    for number, row in enumerate(lines[1:], start=2):
        if not any(cell.strip() for cell in row):
            continue
        place = Place(path, number)
        cells = {name: row[at_].strip() if at_ < len(row) else "" for name, at_ in columns.items()}
        seconds = _seconds(cells.get("seconds", ""), place)
        clock += seconds or 0.0
        moment = at + timedelta(seconds=round(clock) if clock else len(found))
        area = _area(cells.get("area", ""), exam, place)
        answer = replace(_answer(cells, options, sitting, place, moment), area=area)
        if answer.question in found:
            raise FormatError(
                f"question {cells['item']} appears twice",
                place=place,
                hint="delete one of the two lines",
            )
        found[answer.question] = answer
    _within(len(found), clock, exam, path)
    return tuple(found.values())


def _area(text: str, exam: Exam, place: Place) -> AreaId:
    try:
        return exam.area(text).id if text else AreaId("")
    except NotFoundError as error:
        raise FormatError(error.message, place=place, hint=error.hint) from error


def read_csv(text: str, path: str) -> list[list[str]]:
    """Rows of a CSV file, whatever its line ends and its separator.

    Raises:
        FormatError: It is not CSV, or empty.
    """
    if not text.strip("\ufeff \t\r\n"):
        raise FormatError("the file is empty", place=Place(path))
    try:
        source = io.StringIO(text.removeprefix("\ufeff"), newline="")
        return list(csv.reader(source, delimiter=separator_of(text)))
    except csv.Error as error:
        hint = "save it as CSV"
        raise FormatError(f"this is not CSV: {error}", place=Place(path, 1), hint=hint) from error


def _within(count: int, seconds: float, exam: Exam, path: str) -> None:
    if not count:
        raise FormatError("no answers", place=Place(path, 1), hint="one line for each item")
    if count > exam.item_count:
        message = f"{count} answers, more than the {exam.item_count} items of the exam"
        raise FormatError(message, place=Place(path), hint="one paper at a time")
    allowed = exam.paper_count * exam.paper_minutes
    if seconds / 60 > MOST_OVER * allowed:
        message = f"the times add up to {seconds / 60:.0f} minutes; the paper has {allowed}"
        raise FormatError(
            message, place=Place(path), hint="give seconds for each item, not a clock"
        )


def _columns(head: list[str], path: str) -> dict[str, int]:
    found: dict[str, int] = {}
    for number, cell in enumerate(head):
        for name, spellings in NAMES.items():
            if cell.strip().casefold() in spellings:
                found.setdefault(name, number)
    missing = [name for name in ("item", "chosen", "key") if name not in found]
    if missing:
        message = f"the first line has no column {', '.join(missing)}"
        hint = "name the columns item, chosen, key, and if kept first, seconds, certainty, area"
        raise FormatError(message, place=Place(path, 1), hint=hint)
    return found


def _answer(
    cells: dict[str, str], options: list[str], sitting: str, place: Place, moment: datetime
) -> Attempt:
    item = cells["item"].rpartition(":")[2]
    question = parse_question(f"{sitting}:{item}")
    if question is None:
        raise FormatError(
            f"'{item}' is not a question number", place=place, hint="write its number"
        )
    chosen, key, first = (cells.get(name, "").upper() for name in ("chosen", "key", "first"))
    if not key:
        raise FormatError(f"item {item} has no key", place=place, hint="fill in the right option")
    for option in (chosen, key, first):
        if option and option not in options:
            hint = f"the exam's options are {options[0]} to {options[-1]}"
            raise FormatError(f"'{option}' is not an option", place=place, hint=hint)
    outcome: Outcome = "blank"
    if chosen:
        outcome = "right" if chosen == key else "wrong"
    certainty = cells.get("certainty", "")
    if certainty not in ("", "1", "2", "3"):
        hint = "1 unsure, 2 fairly sure, 3 sure"
        raise FormatError(f"certainty '{certainty}' is not 1, 2 or 3", place=place, hint=hint)
    return Attempt(
        id=AttemptId(""),
        at=moment,
        question=question,
        outcome=outcome,
        first=first,
        chosen=chosen,
        key=key,
        certainty=int(certainty) if certainty else None,
        seconds=_seconds(cells.get("seconds", ""), place),
        round="paper",
        sitting=sitting,
    )


def _seconds(text: str, place: Place) -> float | None:
    if not text:
        return None
    try:
        seconds = float(text.replace(",", "."))
    except ValueError:
        seconds = -1.0
    if not 0 <= seconds < 36000:
        raise FormatError(f"'{text}' is not a number of seconds", place=place, hint="such as 94")
    return seconds
