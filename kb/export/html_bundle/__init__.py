"""Chosen notes as one HTML file that needs nothing else: no network, no server, no other file.

It can be read without JavaScript. With it, words can be found, and answers are kept and handed back
as the text of an answer sheet.
"""

import json
import re
from base64 import b64encode
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path

from kb.core.ids import REASONS, ROUNDS
from kb.core.labels import FIELDS, label
from kb.core.wording import counted, visible_html
from kb.export.handout import Handout, Leaf
from kb.export.html_bundle.word_index import index
from kb.export.images import small
from kb.formats.markdown import to_page
from kb.language.abbreviations import Entries

FOLDER = Path(__file__).parent
PICTURE_PIXELS = 1000
"""Longest side of a picture: as wide as a phone shows it sharp."""
TITLE_LEVEL = 3
"""Level of a note's title: under the file's and the area's."""
HEADING = re.compile(r"<(/?)h([2-6])>")
ALONE = re.compile(r'(<(td|li|p)(?: class="\w+")?>)<a (?=[^>]*>[^<]*</a></\2>)')
"""A link alone on its line, tapped like a row rather than read like a word."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AnswerForm:
    """What the form for answers offers.

    `base` keeps this base's answers apart from those of another in one browser. `sources` and
    `areas` are (id, name).
    """

    base: str
    sources: tuple[tuple[str, str], ...]
    areas: tuple[tuple[str, str], ...]
    letters: tuple[str, ...]
    rounds: tuple[str, ...] = ROUNDS
    reasons: tuple[str, ...] = REASONS


def write_carry(handout: Handout, form: AnswerForm, glossary: Entries = ()) -> bytes:
    """The bytes of the file, UTF-8, with the notes under their areas. The same notes on the same
    day always give the same.
    """
    from jinja2 import Environment
    from markupsafe import Markup

    leaves = [leaf for _, group in handout.areas() for leaf in group]
    numbers = {leaf.path: number for number, leaf in enumerate(leaves, start=1)}
    areas = [(name, [_page(leaf, numbers) for leaf in group]) for name, group in handout.areas()]
    style, script = _part("page.css"), "".join(map(_part, ("find.js", "sheet.js", "page.js")))
    room = Environment(autoescape=True, trim_blocks=True, lstrip_blocks=True)
    room.filters["label"], room.globals["fields"] = label, FIELDS
    text = room.from_string(_part("page.html")).render(
        handout=handout,
        form=form,
        areas=areas,
        counted=counted,
        example=f"{handout.day.isoformat()} {form.sources[0][0] if form.sources else 'source'}",
        policy=policy(style, script),
        style=Markup(style),
        script=Markup(script),
        index=Markup(_in_script(index(leaves, glossary))),
    )
    return visible_html(text).encode()


def policy(style: str, script: str) -> str:
    """What the file may do: run its own script, use its own style, show pictures it holds."""
    return (
        "default-src 'none'; "
        f"script-src '{_digest(script)}'; style-src '{_digest(style)}'; "
        "img-src data:; form-action 'none'; base-uri 'none'"
    )


def _digest(text: str) -> str:
    return f"sha256-{b64encode(sha256(text.encode()).digest()).decode()}"


@cache
def _part(name: str) -> str:
    """One of the files in this folder, with plain newlines so that its digest is the same
    everywhere.
    """
    return (FOLDER / name).read_text(encoding="utf-8").replace("\r\n", "\n")


def _in_script(content: object) -> str:
    """JSON that cannot close the element around it."""
    text = json.dumps(content, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c")


def _page(leaf: Leaf, numbers: Mapping[str, int]) -> dict[str, object]:
    """One note as the file shows it."""
    from markupsafe import Markup

    def address(path: str, picture: bool) -> str:
        if not picture:
            return f"#n{numbers[path]}" if path in numbers else ""
        found = small(leaf.pictures[path], PICTURE_PIXELS) if path in leaf.pictures else None
        return f"data:{found.kind};base64,{b64encode(found.raw).decode()}" if found else ""

    return {
        "number": numbers[leaf.path],
        "leaf": leaf,
        "html": Markup(_below(to_page(leaf.body, leaf.path, address))),
        "evidence": ": ".join(part for part in (leaf.state, leaf.evidence) if part),
    }


def _below(html: str) -> str:
    """A note's HTML with headings below the file's own."""
    levels = [TITLE_LEVEL]
    shallowest = min((int(level) for end, level in HEADING.findall(html) if not end), default=0)

    def heading(match: re.Match[str]) -> str:
        if not match[1]:
            # No level is skipped, whatever the note does: a screen reader counts them.
            wanted = int(match[2]) - shallowest + TITLE_LEVEL + 1
            levels.append(min(6, wanted, levels[-1] + 1))
        return f"<{match[1]}h{levels[-1]}>"

    return ALONE.sub(r'\1<a class="alone" ', HEADING.sub(heading, html))
