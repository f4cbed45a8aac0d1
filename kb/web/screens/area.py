"""One area: its standing, the way to its brief, and its topics."""

from flask import Blueprint
from flask.typing import ResponseReturnValue

from kb.web.links import area_address
from kb.web.view_helpers import opened, see_other, show

screen = Blueprint("area", __name__)


@screen.get("/area/<area>")
def one_area(area: str) -> ResponseReturnValue:
    """The area with that id or name."""
    session = opened()
    found = session.exam.area(area)
    if found.id != area:
        return see_other(area_address(found.id))
    return show(
        "area.html",
        title=found.name,
        area=found,
        standing=session.report("standing", {"area": found.id}),
    )
