"""Today: the evening in one line, its steps with their buttons, and the notes to work on first."""

from flask import Blueprint

from kb.core.model import Base
from kb.core.wording import counted
from kb.reports.today import Evening, Step, evening
from kb.services.reading_choices import record_choices
from kb.services.session import Session
from kb.stats.note_state import open_misses
from kb.web.links import report_address
from kb.web.view_helpers import opened, show

SHIFTS = {"off": "a day off", "rest": "rest after nights", "eve": "the eve of the exam"}
"""Shifts that are not called a shift."""
Button = tuple[str, str]

screen = Blueprint("today", __name__)


@screen.get("/")
def today() -> str:
    """What to do now, in order."""
    session = opened()
    record_choices(session)
    report = session.report("today")
    found = evening(session.base, session.today)
    rows = [(step, _buttons(session, step)) for step in found.steps] if found else []
    writing, fresh = _writing(session)
    return show(
        "today.html",
        report=report,
        headline=_headline(found, over=not rows and not fresh) if _begun(session.base) else "",
        steps=rows,
        done=found.done if found else (),
        writing=writing,
        progress=next((b for b in report.blocks if getattr(b, "key", "") == "progress"), None),
        notes=report.entries("notes"),
        begun=_begun(session.base),
    )


def _begun(base: Base) -> bool:
    banks = (source for source in base.study.sources if source.kind == "bank")
    return bool(base.attempts or base.notes or any(bank.item_count for bank in banks))


def _headline(found: Evening | None, *, over: bool) -> str:
    """`120 minutes today, day shift; 40 used`, or why there are none."""
    if found is None:
        return "No study day is left before the exam."
    shift = SHIFTS.get(found.shift, f"{found.shift} shift")
    why = f" ({found.why})" if found.why and found.why != shift else ""
    if not found.minutes:
        return f"No study today: {shift}{why}."
    used = f"; {found.spent_minutes} used" if found.spent_minutes else ""
    end = " All done for today." if over else ""
    return f"{counted(found.minutes, 'minute')} today, {shift}{why}{used}.{end}"


def _buttons(session: Session, step: Step) -> list[Button]:
    """The words and addresses of what starts a step."""
    if step.kind == "notes":
        return [("Start", "/read/tonight")]
    if step.kind == "missed":
        return [("List", report_address("retry")), ("Log", "/log")]
    if step.kind == "new":
        area = step.area
        brief = f"/read/brief?words={area}&minutes=20"
        return [*([("Brief", brief)] if area else []), ("Log", "/log/block")]
    if step.kind == "mixed":
        return [("Draw", f"/log/draw?count={step.count}"), ("Log", "/log")]
    if step.kind == "review":
        return [("Start", "/log/misses")]
    return [("Log", "/log/block")]


def _writing(session: Session) -> tuple[str, int]:
    """`3 misses of today to write up`, or how many have no note, empty if none; and those of
    today.
    """
    rows = open_misses(session.base, session.today)
    if not rows:
        return "", 0
    fresh = sum(row.attempt.day == session.today for row in rows)
    count = fresh or len(rows)
    misses = counted(count, "miss", "misses")
    return f"{misses} of today to write up" if fresh else f"{misses} without a note", fresh
