"""One area: its standing, what to read before its questions, and its topics."""

from __future__ import annotations

from typing import TYPE_CHECKING

from flask import Blueprint, request

from kb.web.links import area_address
from kb.web.view_helpers import opened, see_other, show

if TYPE_CHECKING:
    from flask.typing import ResponseReturnValue

MINUTES = "20"
screen = Blueprint("area", __name__)


@screen.get("/area/<area>")
def one_area(area: str) -> ResponseReturnValue:
    """The area with that id or name."""
    session = opened(indexed=True)
    found = session.exam.area(area)
    if found.id != area:
        return see_other(area_address(found.id))
    minutes = request.args.get("minutes") or MINUTES
    return show(
        "area.html",
        title=found.name,
        area=found,
        minutes=minutes,
        standing=session.report("standing", {"area": found.id}),
        brief=session.report("brief", {"words": found.id, "minutes": minutes}),
        map=session.report("map", {"words": found.id}),
    )
