"""The reference, topic by topic."""

import re

from flask import Blueprint
from markupsafe import Markup

from kb.formats.markdown import to_page
from kb.presentation.help_topics import help_text, help_topics
from kb.web.view_helpers import show

IN_CELL = re.compile(r"(?<=<td><code>)\w+")
"""A setting in a table: on a phone it may be broken behind an underscore."""

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
    page = to_page(body, "", lambda _path, _picture: "")
    text = Markup(IN_CELL.sub(lambda code: code[0].replace("_", "_<wbr>"), page))
    return show("help.html", title=title.removeprefix("# "), text=text)
