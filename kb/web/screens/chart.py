"""Pictures for the other screens: one address for each chart."""

from __future__ import annotations

from hashlib import sha256
from typing import TYPE_CHECKING

from flask import Blueprint, Response, request

from kb.errors import NotFoundError
from kb.web import page, pictures

if TYPE_CHECKING:
    from werkzeug.wrappers import Response as Answer

NAV = None
screen = Blueprint("chart", __name__)
screen.add_app_template_global(pictures.address, "chart_address")
screen.add_app_template_global(pictures.chart, "chart_of")


@screen.get("/chart/<name>.svg")
def chart(name: str) -> Answer:
    """One chart in one look; `size` is narrow or wide, `scheme` light or dark."""
    asked = dict(request.args.items())
    look = pictures.look(asked.pop("size", "wide"), asked.pop("scheme", "light"))
    page.opened(patient=True)  # an image cannot say that it comes in a moment
    built = pictures.chart(name, asked)
    page.give_back()  # drawing needs no base, so nobody waits for it
    if not built.panels:
        raise NotFoundError(built.alternative)
    raw = pictures.drawn(built, look)
    answer = Response(raw, mimetype="image/svg+xml")
    answer.set_etag(sha256(raw).hexdigest()[:32])
    return answer.make_conditional(request)
