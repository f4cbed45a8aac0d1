"""Read: where reading begins, and lists of notes as one scroll of their whole texts."""

from flask import Blueprint, flash, request
from flask.typing import ResponseReturnValue

from kb.core.errors import NotFoundError
from kb.core.wording import counted
from kb.services.answer_logging import log_reading
from kb.services.reading_choices import record_choices
from kb.services.selection import Choice, gather
from kb.services.session import Session
from kb.stats.note_state import judge
from kb.web.links import address, compare_address, note_address, report_address
from kb.web.screens.note import body_html
from kb.web.view_helpers import asked_number, opened, see_other, show, typed_number

AT_ONCE = 20
"""Notes of one scroll; the next follow at its end."""
MINUTES = 20.0
TITLES = {"tonight": "To read tonight", "work": "Notes that need work"}
EMPTY = {
    "tonight": "Nothing is due.",
    "work": "No note needs work.",
    "brief": "No note here carries marks at risk.",
}
FURTHER = (
    ("reread", "Notes to reread, day by day"),
    ("queue", "Notes that need work"),
    ("retry", "Missed questions to try again"),
    ("mixups", "Diagnoses you mix up"),
)

screen = Blueprint("read", __name__)


@screen.get("/read")
def read() -> str:
    """What there is to read tonight, and every list of notes."""
    session = opened()
    record_choices(session)
    report = session.report("reread", {"days": 1})
    tonight = [entry for entry in report.entries(f"day_{session.today:%Y_%m_%d}") if entry.note]
    minutes = sum(float(str(dict(entry.fields).get("seconds", 0))) for entry in tonight) / 60
    further = [(report_address(name), word) for name, word in FURTHER]
    further.insert(4, (compare_address(), "Compare two diagnoses"))
    return show(
        "read.html",
        title="Read",
        tonight=f"{counted(len(tonight), 'note')}, {max(1, round(minutes))} min" if tonight else "",
        work=_work_count(session),
        further=further,
        minutes=f"{MINUTES:.0f}",
        areas=session.exam.areas,
    )


def _work_count(session: Session) -> int:
    """Notes that need work."""
    return sum(row.advice != "leave" for row in judge(session.base, session.today))


@screen.get("/read/<name>")
def scroll(name: str) -> ResponseReturnValue:
    """One list as a scroll: `tonight`, `work`, or `brief` of an area or words."""
    session = opened(indexed=name == "brief")
    first = asked_number("from")
    try:
        handout = gather(session, _choice(name, first + AT_ONCE - 1))
    except NotFoundError:
        known = {"", *(area.id for area in session.exam.areas)}
        if name not in EMPTY or request.args.get("words", "") not in known:
            raise
        title = TITLES.get(name, "Brief")
        return show("read_scroll.html", title=title, leaves=(), why=EMPTY[name])
    leaves = handout.leaves[first - 1 : first - 1 + AT_ONCE]
    notes = {note.id: note for note in session.base.notes}
    total = _work_count(session) if name == "work" else len(handout.leaves)
    return show(
        "read_scroll.html",
        title=TITLES.get(name) or handout.title.partition(":")[0],
        right=counted(total, "note"),
        leaves=[
            {
                "number": first + at,
                "leaf": leaf,
                "address": note_address(leaf.path),
                "body": body_html(session, notes[leaf.note], leaf.body),
            }
            for at, leaf in enumerate(leaves)
        ],
        total=total,
        here=_here(first),
        further=_here(first + AT_ONCE) if total >= first + AT_ONCE else "",
        left_count=max(0, total - first - AT_ONCE + 1),
    )


def _choice(name: str, last: int) -> Choice:
    if name == "tonight":
        return Choice(kind="reread")
    if name == "work":
        return Choice(kind="queue", limit=last)
    if name != "brief":
        raise NotFoundError(f"no reading list called '{name}'", hint="the lists are under Read")
    words = request.args.get("words", "").strip()
    minutes = request.args.get("minutes", "").strip()
    found = typed_number(minutes, (0.01, 1e6), "minutes must be a number, such as 20") or MINUTES
    return Choice(kind="brief", words=(words,) if words else (), minutes=found)


def _here(first: int) -> str:
    """The address of this list from a note on."""
    return address(request.path, {**request.args, "from": str(first) if first > 1 else ""})


@screen.get("/read/mark")
def again() -> ResponseReturnValue:
    """Go back to the lists when a refused form is reloaded."""
    return see_other("/read")


@screen.post("/read/mark")
def mark() -> ResponseReturnValue:
    """Record that a note was read, and go on to the next in the list."""
    session = opened()
    note = session.note(request.form.get("note", ""))
    log_reading(session, note, None)
    flash("Marked as read.")
    back = request.form.get("back", "")
    return see_other(back if back.startswith(("/read/", "/note/")) else note_address(note.path))
