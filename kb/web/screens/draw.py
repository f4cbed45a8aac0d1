"""Draw questions at random for a mixed session, and list them."""

from flask import Blueprint, request
from flask.typing import ResponseReturnValue

from kb.core.errors import KBError, QueryError
from kb.core.ids import whole_number
from kb.core.wording import counted
from kb.services.drawing import Wish, draw_questions
from kb.services.session import Session
from kb.web.view_helpers import opened, refusal, see_other, show

USUAL_COUNT = "50"
MOST = 1000
screen = Blueprint("draw", __name__)


@screen.get("/log/draw")
def ask() -> str:
    """How many, from where; or a draw that was made, by its name."""
    session = opened()
    name = request.args.get("draw", "")
    drawn = [str(row.question) for row in session.base.draws if row.draw == name]
    if not drawn:
        return _form(session, request.args.get("count", USUAL_COUNT))
    return show(
        "drawn.html", title=f"{counted(len(drawn), 'question')} drawn", groups=_groups(drawn)
    )


def _form(session: Session, count: str, **more: str) -> str:
    return show(
        "draw.html", title="Draw questions", count=count, kept=session.base.held_back, **more
    )


def _groups(questions: list[str]) -> list[tuple[str, list[str]]]:
    """Numbers in the order drawn, in runs of one source."""
    found: list[tuple[str, list[str]]] = []
    for question in questions:
        source, _, item = question.partition(":")
        if not found or found[-1][0] != source:
            found.append((source, []))
        found[-1][1].append(item)
    return found


@screen.post("/log/draw")
def draw() -> ResponseReturnValue:
    """Draw, record the draw, and show it."""
    session = opened()
    typed = request.form.get("count", "").strip()
    try:
        count = whole_number(typed)
        if not count or count > MOST:
            raise QueryError(f"questions must be a whole number, such as 50; you typed '{typed}'")
        wish = Wish(count=count, held_back=bool(request.form.get("held_back")))
        drawn = draw_questions(session, wish, record=True)
    except KBError as error:
        return _form(session, typed, **refusal(error)), 400
    session.reload()
    return see_other(f"/log/draw?draw={drawn.draw}")
