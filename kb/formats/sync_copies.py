"""Copies that a synchroniser leaves when two devices changed one note: found and compared.

Logs need none of this: all of them are read, and their union counts.
"""

import re
from collections.abc import Iterable
from difflib import SequenceMatcher
from itertools import zip_longest

from kb.core.errors import Place, Problem

COPY = re.compile(
    r"(?P<stem>.+?)"
    r"(?:"
    r"[ ._-]*[(\[][^)\]]*\b(?:conflict|conflicted|copy|version)\b[^)\]]*[)\]]"
    r"|[ ._~-]+(?:sync-?)?conflict(?:ed)?(?:[ ._-].*)?"
    r"|[ _]?\(\d{1,2}\)"
    r"|[ _-]+copy(?:[ _-]?\d{1,2})?"
    r"| \d{1,2}"
    r")",
    re.I,
)
"""How synchronisers and file managers name a copy (common practice, no source)."""
HINT = re.compile(r"conflict|copy|version|[ _(]\d{1,2}\)?$", re.I)
"""What every copy's name holds: a quick test before the slower pattern."""
BARE_NUMBER = re.compile(r" \d{1,2}\.\w+$")
ALIKE = 0.6
LONGEST = 60


def original_of(path: str, paths: Iterable[str]) -> str:
    """The note of which `path` is a copy by its name; empty if there is no such note."""
    folder, slash, name = path.rpartition("/")
    stem, dot, suffix = name.rpartition(".")
    match = COPY.fullmatch(stem) if HINT.search(stem) else None
    if match is None:
        return ""
    wanted = f"{folder}{slash}{match['stem'].rstrip()}{dot}{suffix}".casefold()
    return next((other for other in paths if other.casefold() == wanted and other != path), "")


def find_twins(notes: Iterable[str]) -> tuple[tuple[str, str], ...]:
    """Pairs (note, its copy) among the paths of a base's notes, in order of path."""
    paths = sorted(notes)
    pairs = ((original_of(path, paths), path) for path in paths)
    return tuple((original, copy) for original, copy in pairs if original)


def twin_problem(original: str, copy: str, text: str, other: str) -> Problem | None:
    """The Problem of a note and its copy, by their paths and their texts: the first line in which
    they differ, side by side.

    None if only a bare number makes it a copy and the texts are not alike: `type 2` may be a note
    of its own.
    """
    if text == other:
        message = f"the same as {original}, word for word"
        return Problem(Place(copy), "note-copy", message, "delete this copy", "caution")
    if BARE_NUMBER.search(copy) and SequenceMatcher(None, text, other).ratio() < ALIKE:
        return None
    rows = zip_longest(text.splitlines(), other.splitlines(), fillvalue="")
    differing = [(n, a, b) for n, (a, b) in enumerate(rows, start=1) if a != b]
    if not differing:
        message, line = f"the same as {original} but for its line ends", 0
    else:
        line, one, two = differing[0]
        more = f" ({len(differing)} lines differ)" if len(differing) > 1 else ""
        message = f"two versions of one note{more}; {original}: '{_cut(one)}' | here: '{_cut(two)}'"
    hint = f"bring into {original} what it lacks, then delete this file"
    return Problem(Place(copy, line), "note-twins", message, hint)


def _cut(line: str) -> str:
    return line if len(line) <= LONGEST else f"{line[: LONGEST - 3]}..."
