"""Record the score of a paper whose single answers are not known."""

from collections.abc import Mapping

from flask import Blueprint, request
from flask.typing import ResponseReturnValue

from kb.core.errors import KBError, QueryError
from kb.core.ids import NO_AREA, whole_number
from kb.services.answer_logging import AreaScore, log_scores, paper_to_log
from kb.services.session import Session
from kb.web.screens.log import source_parts
from kb.web.view_helpers import opened, refusal, see_other, show

FIELDS = ("paper", "right", "asked")
screen = Blueprint("log_paper", __name__)


@screen.get("/log/paper")
def ask() -> str:
    """The form: which paper, and how many right."""
    session = opened()
    asked = {"paper": request.args.get("paper", ""), "asked": str(session.exam.item_count)}
    return _form(session, asked)


def _form(session: Session, typed: Mapping[str, str], **more: str) -> str:
    choice = source_parts(session, typed["paper"], kinds=("paper", "mock"))
    return show("log_paper.html", title="Record a paper", typed=typed, **choice, **more)


@screen.post("/log/paper")
def record() -> ResponseReturnValue:
    """Record the score."""
    session = opened()
    typed = {name: request.form.get(name, "").strip() for name in FIELDS}
    typed["paper"] = request.form.get("other", "").strip() or typed["paper"]
    try:
        if not typed["paper"]:
            raise QueryError("the paper is missing", hint="choose it")
        right, asked = (_whole(typed[name], name) for name in ("right", "asked"))
        if right > asked:
            raise QueryError(f"{right} right of {asked} cannot be", hint="correct one of them")
        paper = paper_to_log(session, typed["paper"])
        score = AreaScore(area=NO_AREA, right_count=right, item_count=asked)
        log_scores(
            session, paper, [score], session.now, official=bool(request.form.get("official"))
        )
    except KBError as error:
        return _form(session, typed, **refusal(error)), 400
    return see_other("/sittings")


def _whole(text: str, name: str) -> int:
    number = whole_number(text)
    if number is None or number >= 10_000:
        raise QueryError(f"{name} must be a whole number, such as 142; you typed '{text}'")
    return number
