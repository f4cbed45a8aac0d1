"""What is wrong with a YAML text, in the words of the person who typed it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import yaml

QUOTES = "put the value in quotes"
DEEP = "brackets inside brackets, too deep"
WORDS: tuple[tuple[str, str, str], ...] = (
    ("flow level", DEEP, "take some out"),
    ("flow sequence", "the bracket '[' opened here is not closed", "close it with ']'"),
    ("flow mapping", "the bracket '{' opened here is not closed", "close it with '}'"),
    (
        "quoted scalar: found unexpected end",
        "the quotation mark opened here is not closed",
        "close it, or leave quotation marks out",
    ),
    ("unknown escape", "a backslash inside double quotes", "use single quotes, or / for \\"),
    ("expected ':'", "no colon in this line", "write a key, a colon, a space and a value"),
    ("mapping values", "a second colon in this line, or an indent that does not fit", QUOTES),
    ("tab", "a tab where spaces belong", "put spaces in its place"),
    ("cannot start", "a value cannot begin with this sign", QUOTES),
    ("alias", "a value cannot begin with *", QUOTES),
    ("anchor", "a value cannot begin with &", QUOTES),
    ("block scalar", "a value cannot begin with | or >", QUOTES),
    ("node content", "a bracket is closed here that was not opened", "open it, or " + QUOTES),
    ("another document", "a second text begins here", "take the line with three dashes out"),
    (
        "block ",
        "this line does not fit those above: its indent, or words behind a closed quotation mark",
        "give keys of one kind one indent; put a whole value in one pair of quotes",
    ),
)
"""Part of the parser's message -> what is wrong, and how to correct it; the first match counts."""
OPENED = ("flow", "quoted", "expected ':'")
"""Parts of messages for which the mistake is in the line where something began."""


def fault_of(error: yaml.MarkedYAMLError, text: str) -> tuple[int, str, str]:
    """From the message of either parser: the line of `text`, from 0, what is wrong with it, and
    how to correct it.
    """
    cause = f"{error.context or ''}: {error.problem or ''}"
    begun = error.context_mark if any(part in cause for part in OPENED) else None
    mark = begun or error.problem_mark or error.context_mark
    line = mark.line if mark else 0
    lines = text.splitlines()
    if "cannot start" in cause and "\t" in "".join(lines[line : line + 1]):
        cause = "tab"
    if "flow node" in cause and not "".join(lines[line:]).strip():  # nothing follows a bracket
        at = max(text.rfind("["), text.rfind("{"))
        cause = "flow sequence" if text[at] == "[" else "flow mapping"
        line = text[:at].count("\n")
    known = (words for part, *words in WORDS if part in cause)
    message, hint = next(known, ("this line cannot be read", QUOTES))
    return line, message, hint
