"""glossary.yaml: the base's own abbreviations, each with its meanings."""

import re

from kb.core.errors import Problem
from kb.language.abbreviations import Entries
from kb.language.normalise import words

PLAIN_LINE = re.compile(r"(\w[\w+-]*): \[((?:\w[\w ()/.+-]*)(?:, ?\w[\w ()/.+-]*)*)\] *")
"""A line that means the same here as to a YAML reader."""


def parse_glossary(text: str, path: str) -> tuple[Entries, tuple[Problem, ...]]:
    """Read glossary.yaml: `ABBR: [meaning, ...]`, or `ABBR: meaning` for a single one."""
    plainly = _parse_plain(text)
    if plainly is not None:
        return plainly, ()
    from kb.formats.yaml_fields import compose

    problems: list[Problem] = []
    fields = compose(text, path, 1, problems)
    if fields is None:
        return (), tuple(problems)
    found = []
    for name in fields:
        meanings = tuple(meaning for meaning in fields.texts(name) if words(meaning))
        if meanings and words(name):
            found.append((name.strip(), meanings))
    return tuple(found), tuple(problems)


def _parse_plain(text: str) -> Entries | None:
    """The entries if every line is of the simplest kind, which needs no YAML reader; or None."""
    found = []
    for line in text.splitlines():
        if not line or line[0] == "#":
            continue
        match = PLAIN_LINE.fullmatch(line)
        if not match:
            return None
        meanings = (meaning.strip() for meaning in match[2].split(","))
        found.append((match[1], tuple(meaning for meaning in meanings if words(meaning))))
    if len({name for name, _ in found}) < len(found):
        return None
    return tuple(entry for entry in found if entry[1] and words(entry[0]))
