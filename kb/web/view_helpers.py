"""What every screen uses: the open base, templates, reports and redirects."""

from collections.abc import Callable
from datetime import date
from typing import Any, TypeVar, cast

from flask import current_app, g, redirect, render_template, request
from markupsafe import Markup
from werkzeug.wrappers import Response

from kb.core.errors import KBError, QueryError
from kb.core.ids import digest, whole_number
from kb.core.last_base import kept_for_last_base
from kb.core.model import Base
from kb.core.wording import capital
from kb.presentation.report_model import Entry, Report
from kb.services.report_registry import as_search, needs_index, report_module
from kb.services.session import Session
from kb.stats.note_state import STATES, judge
from kb.web import links
from kb.web.session_holder import Desk

T = TypeVar("T")
KEPT_COUNT = 48
"""Charts and reports kept: about as many as are looked at in an evening; memory is limited."""
LONGEST_SENTENCE, ENDS = 400, 180
"""Characters of a sentence that are shown, and of each end where it is longer."""


def opened(*, indexed: bool = False, patient: bool = False) -> Session:
    """The open base, this request's alone until it has been answered.

    Args:
        indexed: The full-text index will be used (searching, what is near, the map).
        patient: Wait as a form does, where no page can be shown instead.

    Raises:
        BusyError: It takes a while; a page then shows the progress and reloads itself.
    """
    desk: Desk = current_app.extensions["missbook"]
    waits = patient or request.method not in ("GET", "HEAD")
    if "session" not in g:
        g.session = desk.borrow(indexed=indexed, waits=waits)
    elif indexed:
        session = g.pop("session")
        desk.make_ready(session, waits=waits)
        g.session = session
    return cast("Session", g.session)


def kept(what: tuple[object, ...], make: Callable[[], T]) -> T:
    """What `make` gives for `what`, kept while base and day are the same: a slow report or chart
    comes at once when it is looked at again.
    """
    session = opened()
    held = _held(session.base, session.today)
    if what not in held:
        while len(held) >= KEPT_COUNT:
            held.pop(next(iter(held)))
        held[what] = make()
    return cast("T", held[what])


@kept_for_last_base
def _held(_base: Base, _today: date) -> dict[tuple[object, ...], object]:
    return {}


def base_mark() -> str:
    """What distinguishes this base from another at the same address in the same browser."""
    desk: Desk = current_app.extensions["missbook"]
    return digest(str(desk.root.resolve()))


def give_back(_error: BaseException | None = None) -> None:
    """Let the next request have the base."""
    if g.pop("session", None) is not None:
        desk: Desk = current_app.extensions["missbook"]
        desk.give_back()


def line_links(line: str) -> Markup:
    """A line beneath an entry of a list, with the notes and commands it names as links."""
    session = opened()
    return links.line_links(line, _titles(session.base, session.today))


@kept_for_last_base
def _titles(base: Base, today: date) -> dict[str, tuple[str, str]]:
    states = _states(base, today)
    return {note.title: (note.path, states.get(note.id, "")) for note in base.notes}


def name_of(kind: str, own: str, heads: bool = False) -> str:
    """How the page names a value: areas and sources by their names, everything else as written.

    Args:
        kind: Of its column.
        own: The id, or whatever else is in the cell.
        heads: It heads a row, and so begins with a capital.
    """
    named = own
    if kind == "area":
        named = opened().exam.area_name(own)
    elif kind == "source":
        named = opened().study.source_name(own)
    return capital(own) if heads and named == own else named


def state_of(note: str) -> str:
    """The state of the note with that id, as a word; empty for one without questions."""
    session = opened()
    return _states(session.base, session.today).get(note, "")


@kept_for_last_base
def _states(base: Base, today: date) -> dict[str, str]:
    return {row.note: row.state for row in judge(base, today) if row.question_count}


def entry_right(entry: Entry) -> list[str]:
    """The texts beneath the head of an entry; the state of a note has its sign instead."""
    names: dict[str, str] = {area.id: area.name for area in opened().exam.areas}
    right = links.entry_right(entry, names)
    return [text for text in right if not (entry.note and text in STATES)]


def show(template: str, **context: Any) -> str:  # noqa: ANN401
    """A page made from a template, under its own `title` or that of the `report` it shows; `right`
    is shown beside its heading.
    """
    problems = g.session.whole.problems if "session" in g else ()
    errors = [problem for problem in problems if problem.severity == "error"]
    report: Report | None = context.get("report")
    head = {"title": report.title, "right": report.right} if report else {}
    return render_template(template, errors=errors, **{**head, **context})


def see_other(address: str) -> Response:
    """Redirect to another page after a form was accepted."""
    return redirect(address, code=303)


def asked_number(name: str) -> int:
    """A number from 1 in the address, by its name; 1 without one that can be read."""
    return max(1, whole_number(request.args.get(name, "")) or 1)


def typed_number(text: str, allowed: tuple[float, float], refusal: str) -> float | None:
    """A number as it was typed, from the first to the last allowed; None for an empty field.

    Raises:
        QueryError: It is not one; `refusal` says what is wanted.
    """
    if not text:
        return None
    try:
        number = float(text.replace(",", "."))
    except ValueError:
        number = float("nan")
    if not allowed[0] <= number <= allowed[1]:
        raise QueryError(f"{refusal}; you typed '{text}'")
    return number


def show_report(name: str, *, template: str = "report_page.html", **context: Any) -> str:  # noqa: ANN401
    """A report as a page, with its options as a form that asks for it again."""
    module = report_module(name)
    session = opened(indexed=needs_index(module) or as_search(module) is not None)
    asked = {name: value for name, value in request.args.items() if value.strip()}
    lacking = [o.name for o in module.OPTIONS if o.required and not asked.get(o.name)]
    if lacking:
        context["title"] = name.capitalize()
    else:
        asked_for = (name, *sorted(asked.items()))
        context["report"] = kept(asked_for, lambda: session.report(name, asked))
    return show(
        template,
        name=name,
        options=module.OPTIONS,
        asked=asked,
        areas=session.exam.areas,
        **context,
    )


def shortened(text: str) -> str:
    """A message that repeats what was typed, cut to a readable length."""
    return text if len(text) <= LONGEST_SENTENCE else f"{text[:ENDS]} \u2026 {text[-ENDS:]}"


def message_and_hint(error: KBError) -> tuple[str, str]:
    """Message and hint of an error, without where on this machine the base lies."""
    desk: Desk = current_app.extensions["missbook"]
    place = f"{error.place}: " if error.place else ""
    message, hint = f"{place}{shortened(error.message)}", shortened(error.hint)
    for path in (str(desk.root.resolve()), str(desk.root)):
        if len(path) > 1:
            message, hint = message.replace(path, "the base"), hint.replace(path, "the base")
    return message, hint


def refusal(error: KBError) -> dict[str, str]:
    """Why a form was refused and what to do, without the options of commands."""
    message, hint = message_and_hint(error)
    return {"refused": message.removeprefix("--"), "hint": "" if "--" in hint else hint}
