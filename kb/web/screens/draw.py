"""Draw questions at random for a mixed session, and list them."""

from flask import Blueprint, request
from flask.typing import ResponseReturnValue

from kb.core.errors import KBError, QueryError
from kb.core.ids import whole_number
from kb.core.wording import counted
from kb.services.drawing import Wish, by_source, draw_questions
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
    drawn = [row.question for row in session.base.draws if row.draw == name]
    if not drawn:
        return _form(session, request.args.get("count", USUAL_COUNT))
    return show(
        "drawn.html", title=f"{counted(len(drawn), 'question')} drawn", groups=by_source(drawn)
    )


def _form(session: Session, count: str, **more: str) -> str:
    return show(
        "draw.html", title="Draw questions", count=count, kept=session.base.held_back, **more
    )


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
