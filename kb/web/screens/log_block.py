"""A block of questions, or a pasted answer sheet, logged in one go; and the result of an import."""

from collections.abc import Mapping, Sequence
from datetime import date

from flask import Blueprint, flash, request
from flask.typing import ResponseReturnValue

from kb.core.errors import KBError, NotFoundError, QueryError
from kb.core.ids import ROUND_OF, ROUNDS
from kb.core.lookup import source_to_log
from kb.core.model import Attempt
from kb.core.wording import capital, counted
from kb.formats.answer_sheet.parser import format_left, parse_sheet
from kb.formats.answer_sheet.records import Sheet
from kb.formats.attempt_log import EARLIEST_YEAR
from kb.importers.block import block_drafts, parse_items, timed_as_logged
from kb.importers.sheets import known_words, sheet_drafts
from kb.presentation.import_result import ImportCounts, dry_report, import_report
from kb.services.answer_logging import (
    count_known,
    import_answers,
    keep_rejected,
    mark_sheet_logged,
    void,
)
from kb.services.session import Session
from kb.web.screens.log import last_answer, source_parts
from kb.web.view_helpers import opened, refusal, see_other, show, typed_number

SHOWN_ROWS = 200
BLOCK = ("source", "round", "area", "items", "wrong", "blank", "guessed", "minutes")
MINUTES = (0.01, 1440.0)
MOST_PASTED = 200_000
"""Characters of a pasted sheet: ten thousand answers and more, read in some seconds."""
SHEET_NAME = "pasted sheet"

screen = Blueprint("log_block", __name__)


@screen.get("/log/block")
def ask_block() -> str:
    """The form of a block, its source chosen already."""
    session = opened()
    last = last_answer(session)
    typed = {name: request.args.get(name, "") for name in BLOCK}
    if last is not None and not typed["source"]:
        typed["source"], typed["round"] = last.source, last.round
    return _block_page(session, typed)


def _block_page(session: Session, typed: Mapping[str, str], **more: str) -> str:
    return show(
        "log_block.html",
        title="Log a block",
        typed_block=typed,
        **source_parts(session, typed["source"]),
        rounds=ROUNDS,
        areas=session.exam.areas,
        **more,
    )


@screen.post("/log/block")
def block() -> ResponseReturnValue:
    """Log a run of items, all right except those that are named."""
    session = opened()
    typed = {name: request.form.get(name, "").strip() for name in BLOCK}
    typed["source"] = request.form.get("other", "").strip() or typed["source"]
    try:
        drafts = _block_drafts(session, typed)
        title = f"block {typed['source'].casefold()} {typed['items']}"
        return _go_on(_log(session, drafts, title))
    except KBError as error:
        return _block_page(session, typed, **refusal(error)), 400


def _block_drafts(session: Session, typed: Mapping[str, str]) -> tuple[Attempt, ...]:
    marks: dict[str, Sequence[int]] = {
        name: parse_items(typed[name], name) if typed[name] else ()
        for name in ("wrong", "blank", "guessed")
    }
    area = typed["area"]
    if typed["round"] not in ROUND_OF:
        raise QueryError(f"there is no round '{typed['round']}'")
    drafts = block_drafts(
        session.study,
        source_to_log(session.base, typed["source"]),
        parse_items(typed["items"], "numbers"),
        marks,
        session.now,
        area=session.exam.area(area).id if area else "",
        minutes=typed_number(typed["minutes"], MINUTES, "minutes must be a number, such as 62"),
        round_given=ROUND_OF[typed["round"]],
    )
    return timed_as_logged(drafts, session.whole.attempts)


def _log(session: Session, drafts: tuple[Attempt, ...], title: str, left_count: int = 0) -> str:
    """Log drafts as one import; returns its id, empty if it added nothing."""
    again = bool(request.form.get("again"))
    result = import_answers(session, drafts, title=title, left_count=left_count, again=again)
    if result.added.known_count:
        flash(f"{counted(result.added.known_count, 'answer')} there already.")
    if left_count:
        flash(f"{counted(left_count, 'line')} not understood; kept in the log's folder.")
    for problem in result.beyond:
        flash(f"{capital(problem)}.")
    return result.added.batch


def _go_on(batch: str) -> ResponseReturnValue:
    return see_other(f"/log/import/{batch}" if batch else "/log")


@screen.get("/log/import/<batch>")
def one_import(batch: str) -> str:
    """The result of an import, with a way to take it back."""
    session = opened()
    mine = [attempt for attempt in session.base.attempts if attempt.batch == batch]
    if not mine:
        raise NotFoundError("that batch no longer counts", hint="nothing was changed")
    questions = frozenset(attempt.question for attempt in mine)
    report = import_report(
        session.base, session.today, questions, ImportCounts(added=len(mine)), batch
    )
    return show(
        "log_import.html",
        report=report,
        batch=batch,
    )


@screen.post("/log/import/<batch>/void")
def take_back(batch: str) -> ResponseReturnValue:
    """Take back a whole import."""
    session = opened()
    count = void(session, batch, "taken back on the page")
    flash(f"{counted(count, 'answer')} taken back.")
    return see_other("/log")


@screen.get("/log/sheet")
def ask_sheet() -> str:
    """The form of a sheet."""
    return _sheet_page()


def _sheet_page(**more: str) -> str:
    text, day = request.form.get("text", ""), request.form.get("day", "")
    return show("log_paste.html", title="Log an answer sheet", text=text, day=day, **more)


@screen.post("/log/sheet")
def preview_sheet() -> ResponseReturnValue:
    """Show what a pasted sheet would add, and the lines not understood; log nothing."""
    session = opened()
    try:
        text, day, sheet, drafts = _pasted(session)
    except KBError as error:
        return _sheet_page(**refusal(error)), 400
    problems = [
        (p.place.line, p.message.removeprefix("not understood: "), p.hint) for p in sheet.problems
    ]
    return show(
        "log_sheet.html",
        title="Check before logging",
        right=counted(len(drafts), "answer"),
        report=dry_report(session.exam, drafts, len(sheet.left), SHOWN_ROWS),
        problems=problems[:SHOWN_ROWS],
        more_problem_count=len(problems[SHOWN_ROWS:]),
        known=count_known(session, drafts),
        count=len(drafts),
        undated=sheet.undated_count,
        text=text,
        day=day,
    )


@screen.post("/log/sheet/save")
def save_sheet() -> ResponseReturnValue:
    """Log a pasted sheet that was previewed; lines not understood are kept aside."""
    session = opened()
    try:
        text, day, sheet, drafts = _pasted(session)
        if not drafts:
            raise QueryError("the sheet holds no answer", hint="nothing was logged")
        if sheet.left:
            keep_rejected(session, format_left(sheet.left))
        batch = _log(session, drafts, f"sheet {SHEET_NAME}", len(sheet.left))
        mark_sheet_logged(session, SHEET_NAME, text.encode(), day, batch)
    except KBError as error:
        return _sheet_page(**refusal(error)), 400
    return _go_on(batch)


def _pasted(session: Session) -> tuple[str, date, Sheet, tuple[Attempt, ...]]:
    """The text, the day of its answers without a date, and the sheet and answers that it is.

    Raises:
        QueryError: There is no text, or too much of it, or the day is impossible.
    """
    text = request.form.get("text", "").replace("\r\n", "\n")
    if not text.strip():
        raise QueryError("the sheet is empty", hint="a heading, then one line for each question")
    if len(text) > MOST_PASTED:
        hint = "paste it in parts"
        raise QueryError(f"the sheet is too long: at most {MOST_PASTED} characters", hint=hint)
    shown_day = request.form.get("day", "").strip()
    day = session.today
    if shown_day:
        try:
            day = date.fromisoformat(shown_day)
        except ValueError as error:
            hint = "write it as 2027-02-14"
            raise QueryError(f"'{shown_day}' is not a date", hint=hint) from error
        if day > session.today:
            raise QueryError(f"{shown_day} has not come yet", hint="correct the day")
        if day.year < EARLIEST_YEAR:
            raise QueryError(f"{shown_day} is too long ago", hint="correct the day")
    known = known_words(session.exam, session.study, day, session.today)
    sheet = parse_sheet(text, SHEET_NAME, known)
    return text, day, sheet, sheet_drafts(sheet.answers, session.study, session.now, day)
