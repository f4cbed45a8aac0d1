"""The reference, topic by topic."""

from __future__ import annotations

from flask import Blueprint
from markupsafe import Markup

from kb.formats.markdown import to_page
from kb.presentation.help_topics import help_text, help_topics
from kb.web.view_helpers import show

screen = Blueprint("help", __name__, url_prefix="/help")


@screen.get("")
def topics() -> str:
    """The topics there are."""
    return show("help.html", title="Help", topics=help_topics())


@screen.get("/<topic>")
def one(topic: str) -> str:
    """One topic."""
    title, _, body = help_text(topic).partition("\n")
    body = body.replace("\n## ", "\n# ")  # the page shows the topic's own title above
    text = Markup(to_page(body, "", lambda _path, _picture: ""))
    return show("help.html", title=title.removeprefix("# "), text=text)
