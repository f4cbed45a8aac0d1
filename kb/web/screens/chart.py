"""Pictures for the other screens: one address for each chart."""

from flask import Blueprint, Response, request
from werkzeug.wrappers import Response as Answer

from kb.core.errors import NotFoundError
from kb.web import chart_images, view_helpers

screen = Blueprint("chart", __name__)
screen.add_app_template_global(chart_images.address, "chart_address")
screen.add_app_template_global(chart_images.chart, "chart_of")


@screen.get("/chart/<name>.svg")
def chart(name: str) -> Answer:
    """One chart in one style; `size` is narrow or wide, `scheme` light or dark."""
    asked = dict(request.args.items())
    style = chart_images.style(asked.pop("size", "wide"), asked.pop("scheme", "light"))
    view_helpers.opened(patient=True)  # an image cannot say that it will be there in a moment
    built = chart_images.chart(name, asked)
    view_helpers.give_back()  # drawing needs no base, so it is released first
    if not built.panels:
        raise NotFoundError(built.alternative)
    raw = chart_images.drawn(built, style)
    answer = Response(raw, mimetype="image/svg+xml")
    answer.add_etag()
    return answer.make_conditional(request)
