"""Where a thing of the base is found on the page, and commands named in a text as links."""

from __future__ import annotations

import re
import shlex
from typing import TYPE_CHECKING
from urllib.parse import quote, urlencode

from markupsafe import Markup, escape

from kb import discover

if TYPE_CHECKING:
    from kb.blocks import Column, Entry

COMMAND = re.compile(r"missbook (?P<name>[a-z]+)(?P<rest>(?: (?:--[a-z-]+|[\w:./+=-]+))*)")


def note_address(path: str) -> str:
    """Where the note of that path is read."""
    return f"/note/{quote(path)}"


def area_address(area: str) -> str:
    """Where an area is shown."""
    return f"/area/{quote(area, safe='')}"


def entry_address(entry: Entry) -> str:
    """Where an entry of a list leads: its note, its area, its paper; empty if nowhere."""
    fields = dict(entry.fields)
    path = fields.get("path")
    if isinstance(path, str) and path.endswith(".md"):
        return note_address(path)
    if entry.note:
        return f"/note/{quote(entry.note)}"
    return ""


def cell_address(column: Column, cell: object) -> str:
    """Where a cell of a table leads: areas and papers have a page of their own."""
    if column.key == "area" and isinstance(cell, str) and cell:
        return area_address(cell)
    if column.key == "sitting" and isinstance(cell, str) and cell:
        return f"/sittings/{quote(cell, safe='')}"
    return ""


def with_links(text: str) -> Markup:
    """A text in which the commands that it names are links to their pages."""
    parts: list[Markup] = []
    end = 0
    for found in COMMAND.finditer(text):
        address = _command_address(found["name"], found["rest"])
        if not address:
            continue
        parts.append(escape(text[end : found.start()]))
        words = found["name"] + found["rest"]
        parts.append(Markup('<a href="{}">{}</a>').format(address, words))
        end = found.end()
    parts.append(escape(text[end:]))
    return Markup("").join(parts)


def _command_address(name: str, rest: str) -> str:
    if name in ("note", "log"):
        return "/log"
    if name not in discover.module_names("kb.reports"):
        return ""
    words: list[str] = []
    options: dict[str, str] = {}
    waiting = ""
    for word in shlex.split(rest):
        if word.startswith("--"):
            waiting = word[2:].replace("-", "_")
            options[waiting] = ""
        elif waiting:
            options[waiting], waiting = word, ""
        else:
            words.append(word)
    if words:
        options["words"] = " ".join(words)
    query = urlencode({key: value for key, value in options.items() if value})
    return f"/report/{name}" + (f"?{query}" if query else "")
