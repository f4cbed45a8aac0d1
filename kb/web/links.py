"""Addresses on the page of everything in the base, and commands in a text as links."""

import re
import shlex
from calendar import month_abbr
from collections.abc import Mapping, Sequence
from urllib.parse import quote, urlencode

from markupsafe import Markup, escape

from kb.core.wording import capital
from kb.presentation.render import cell_texts, format_value
from kb.presentation.report_model import Column, Entry, Kind, Table, named_right
from kb.services.report_registry import report_names

COMMAND = re.compile(
    r"missbook (?P<name>[a-z]+)"
    r"(?P<rest>(?: (?:--[a-z-]+|[\w:./+=,-]*[\w/+=-]|\"[^\"]*\"))*)"
)
PLAIN_REST = re.compile(r"(?: [\w-]+:[\w.-]*\w| \d+)?(?: --[a-z-]+(?: [\w.=+-]*\w)?)*")
"""What belongs to a command that takes no words: a question or number, then options. Anything
after that is the rest of the sentence."""

FIELDS = {"merge": ("keep", "other"), "rename": ("kind", "old")}
"""What the first words of a command are called on its page."""

TAKE_WORDS = ("brief", "compare", "find", "history", "log", "map", "merge", "rename")
NAMED = re.compile(r"- (?P<title>.+?)(?: \((?:failing|untested)\))?")
NEXT_PAGE = re.compile(r"missbook [^\n]*--page (?P<page>\d+)$")
WRITTEN = re.compile(r"write: (?P<link>\[.+\]\(\S+\))$")
TYPED = re.compile(r"`([^`]+)`")
PAIR = " / "
SAT = {"sitting", "sat", "score_count"}
"""Columns that are filled only when the paper of their row was sat."""
UNBROKEN = "\u00a0"
SPAN = re.compile(r"(?<=\d)-(?=\d+(?:%| s$))")
MINUS = re.compile(r"(?<![^\s(])-(?= ?\d)")
DAY = re.compile(rf"(?<=\d) (?=(?:{'|'.join(month_abbr[1:])})\b)")
"""Between the number of a day and its month a line is never broken."""
SCORES = re.compile(r"(?<=^\d\d\d)-(?=\d\d\d$)|(?<=^\d\d)-(?=\d\d\d?$)")
"""A range of scores that is all there is: in a sentence it may be part of what is typed."""
NEAREST = "Did you mean "
ASKS = re.compile(r"(?:^|(?<=[.;] ))(?:To )?([^.:;]+): $")
"""What a command is for, just before it: it becomes the link where it has the link's own verb."""

SCREENS = {
    "find": "/find",
    "note": "/log/misses",
    "sitting": "/sittings",
    "today": "/",
}
"""Reports that have a screen of their own."""

WORDS = {
    "merge": "merge them",
    "draw": "draw them",
    "undo": "undo it",
    "brief": "brief",
    "compare": "see them side by side",
    "find": "find",
    "log": "log answers",
    "note": "write a note",
    "queue": "see the notes that need work",
    "rename": "rename it",
    "reread": "list",
    "retry": "list",
}


Link = tuple[int, int, str, str]
"""Where it begins and ends in a text, its address (empty if there is none), and what it says."""


def note_address(path: str) -> str:
    """Address of the note with that path."""
    return f"/note/{quote(path)}"


def area_address(area: str) -> str:
    """Address of an area."""
    return f"/area/{quote(area, safe='')}"


def miss_address(question: str) -> str:
    """Address at which the note for a missed question is written or linked."""
    return f"/log/miss/{quote(question, safe=':')}"


def address(path: str, asked: Mapping[str, str]) -> str:
    """An address with these fields; empty ones are left out."""
    query = urlencode({name: value for name, value in asked.items() if value})
    return f"{path}?{query}" if query else path


def compare_address(one: str = "", other: str = "", *, write: bool = False) -> str:
    """Address of two diagnoses side by side, or of the form for the note that compares them."""
    return address("/compare/note" if write else "/compare", {"one": one, "other": other})


def report_address(name: str, asked: Mapping[str, str] | None = None) -> str:
    """Address of a report with these options."""
    return address(SCREENS.get(name, f"/report/{name}"), asked or {})


def entry_address(entry: Entry) -> str:
    """Address behind an entry of a list: its note, or the miss without one; may be empty."""
    fields = dict(entry.fields)
    path = fields.get("path")
    if "miss_count" in fields and isinstance(fields.get("question"), str):
        return miss_address(str(fields["question"]))
    if isinstance(path, str) and path.endswith(".md"):
        return note_address(path)
    named = entry.note or fields.get("note")
    if named:
        return note_address(str(named))
    if "one" in fields and "other" in fields:
        return compare_address(str(fields["one"]), str(fields["other"]))
    return ""


def entry_heads(entry: Entry) -> list[tuple[str, str]]:
    """The parts of an entry's head with their addresses; notes that say the same are two."""
    fields = dict(entry.fields)
    names = entry.head.split(PAIR)
    if len(names) == 2 and "keep" in fields and "other" in fields:
        ids = (str(fields["keep"]), str(fields["other"]))
        return [(name, note_address(own)) for name, own in zip(names, ids, strict=True)]
    return [(capital(entry.head), entry_address(entry))]


def entry_right(entry: Entry, areas: Mapping[str, str]) -> list[str]:
    """The text to the right of an entry, areas by name; a figure is not parted from its unit."""
    texts = named_right(entry, areas)
    return [text.replace(" ", UNBROKEN) if text[:1].isdigit() else text for text in texts]


def together(text: str) -> str:
    """The text as it is printed: an en dash in `66-82%`, a minus sign before a number below 0, a
    plus-minus sign, and `5 Apr` on one line.
    """
    text = DAY.sub(UNBROKEN, text.replace("+/-", "\N{PLUS-MINUS SIGN}"))
    return MINUS.sub("\N{MINUS SIGN}", SPAN.sub("\N{EN DASH}", text))


def figure(value: object, kind: Kind) -> str:
    """A single figure as it is printed."""
    return SCORES.sub("\N{EN DASH}", together(format_value(value, kind)))


def cells(table: Table) -> tuple[tuple[str, ...], ...]:
    """The cells of a table as they are printed."""
    rows = cell_texts(table)
    return tuple(tuple(SCORES.sub("\N{EN DASH}", together(text)) for text in row) for row in rows)


def cell_address(columns: Sequence[Column], row: Sequence[object], place: int) -> str:
    """The address behind a cell of a table: that of an area, or of a paper that was sat."""
    column, cell = columns[place], row[place]
    known = {one.key for one, value in zip(columns, row, strict=True) if value is not None}
    if column.kind == "area" and isinstance(cell, str) and cell:
        return area_address(cell)
    if column.kind == "source" and isinstance(cell, str) and known & SAT:
        return f"/sittings/{quote(cell, safe='')}"
    return ""


def with_links(text: str, name: str = "", asked: Mapping[str, str] | None = None) -> Markup:
    """A text in which commands, and options of the report itself, are links to their pages.

    Args:
        text: Plain text of a report.
        name: The report that contains it.
        asked: The options that report was asked with.
    """
    text = together(text)
    leads_on = NEXT_PAGE.search(text) if name else None
    if leads_on:
        text = text.replace("-", "\N{EN DASH}", 1)
        onward = report_address(name, {**(asked or {}), "page": leads_on["page"]})
        found = [(leads_on.start(), leads_on.end(), onward, f"page {leads_on['page']}")]
    else:
        found = [_command(match) for match in COMMAND.finditer(text)]
        found += _nearest_words(text, dict(asked or {})) if name == "find" else []
    parts: list[Markup] = []
    last = 0
    for start, end, target, label in (_with_purpose(text, *row) for row in sorted(found)):
        typed = Markup("<code>{}</code>").format(text[start:end])
        shown = Markup('<a href="{}">{}</a>').format(target, label) if target else typed
        parts += [_plain(text[last:start]), shown]
        last = end
    parts.append(_plain(text[last:]))
    return Markup("").join(parts)


def _with_purpose(text: str, start: int, end: int, target: str, label: str) -> Link:
    """A link that begins with what it is for, where that is said just before it."""
    asks = ASKS.search(text, 0, start)
    if target and asks and label.partition(" ")[0] in asks[1].casefold().split():
        return asks.start(), end, target, capital(asks[1])
    return start, end, target, label


def _plain(text: str) -> Markup:
    """Text without links; what stands between backticks is to be copied."""
    return Markup(TYPED.sub(r"<code>\1</code>", str(escape(text))))


def _nearest_words(text: str, asked: dict[str, str]) -> list[Link]:
    """`Did you mean X or Y?` for a single word: each as a search of its own."""
    if not text.startswith(NEAREST) or len(asked.get("words", "").split()) != 1:
        return []
    asked.pop("page", None)
    words = [m for m in re.compile(r"[^\s,?]+").finditer(text, len(NEAREST)) if m[0] != "or"]
    return [
        (m.start(), m.end(), report_address("find", {**asked, "words": m[0]}), m[0]) for m in words
    ]


def line_links(line: str, notes: Mapping[str, tuple[str, str]]) -> Markup:
    """A line beneath an entry: `- title` becomes a link to that note, any other as `with_links`.

    Args:
        line: Plain text.
        notes: Path and state by title of every note.
    """
    found = NAMED.fullmatch(line)
    if found and found["title"] in notes:
        path, state = notes[found["title"]]
        link = Markup('<a href="{}">{}</a>').format(note_address(path), found["title"])
        sign = Markup(' <span class="state {}">{}</span>').format(state, state)
        return link + (sign if state else "")
    written = WRITTEN.search(line)
    if written:
        typed = Markup("<code>{}</code>").format(written["link"])
        return with_links(capital(line[: written.start("link")].strip())) + " " + typed
    text = with_links(line.strip())
    return text if text.startswith("<") else Markup(capital(text))


def _command(match: re.Match[str]) -> Link:
    """A command in a text as a link."""
    name, rest = match["name"], match["rest"]
    if name not in TAKE_WORDS:
        plain = PLAIN_REST.match(rest)
        rest = plain[0] if plain else ""
    return match.start(), match.start("rest") + len(rest), *_leads(name, rest)


def _leads(name: str, rest: str) -> tuple[str, str]:
    words: list[str] = []
    options: dict[str, str] = {}
    waiting = ""
    for word in shlex.split(rest):
        if word.startswith("--"):
            waiting = word[2:].replace("-", "_")
        elif waiting:
            options[waiting], waiting = word, ""
        else:
            words.append(word)
    if name == "note":
        return (miss_address(words[0]) if words else "/log/misses"), WORDS[name]
    if name in ("log", "undo") and not words:
        return f"/{name}", WORDS[name]
    if name == "log" and words[0] == "block":
        return "/log/block", "log a block"
    if name == "compare" and len(words) == 2:
        return compare_address(*words), WORDS[name]
    if name in FIELDS and len(words) >= 2:
        return address(f"/{name}", dict(zip(FIELDS[name], words, strict=False))), WORDS[name]
    if name == "draw":
        count = next((word for word in words if word.isdigit()), "")
        return address("/log/draw", {"count": count}), WORDS[name] if count else "Draw"
    if name == "sitting" and waiting == "help":
        return "/log/paper", "record a paper"
    if name == "sitting" and len(words) == 1 and not options:
        return f"/sittings/{quote(words[0], safe='')}", f"see {words[0]}"
    if waiting == "help" or name not in report_names():
        return "", ""
    label = " ".join([WORDS.get(name, f"see the {name}"), *words])
    if words:
        options["words"] = " ".join(words)
    return report_address(name, options), "show them" if "limit" in options else label
