"""What can go wrong, and how it is reported.

Bad *data* is a value: a `Problem`, collected while loading and shown, never raised.
A failed *action* is an exception: a `KBError`, caught once, at the door.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from kb.core.records import record

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

Severity = Literal["error", "caution"]

SHORTEST_PART = 4
"""The least letters by which part of a name is recognised as the name."""
FEW = 12
"""So many names may all be listed in a hint."""
LESS_LIKE = 0.1
"""A second name is offered only if it resembles what was typed nearly as much as the first."""


@record(frozen=True)
class Place:
    """A line of a file, as a person would point to it.

    `path` is relative to the base where it lies in one, with forward slashes; `line` counts
    from 1, and 0 means the file as a whole.
    """

    path: str
    line: int = 0

    def __str__(self) -> str:
        return f"{self.path}:{self.line}" if self.line else self.path


@record(frozen=True)
class Problem:
    """One thing that is wrong with the user's files. `code` is a stable word."""

    place: Place
    code: str
    message: str
    hint: str = ""
    severity: Severity = "error"

    def __str__(self) -> str:
        return one_line(self.message, self.place, self.hint)

    @property
    def sort_key(self) -> tuple[str, int, str, str]:
        """By path, then line, then code: the order in which they are listed."""
        return (self.place.path, self.place.line, self.code, self.message)


def one_line(message: str, place: Place | None, hint: str) -> str:
    """`file:line: what is wrong`, and on a second line how to put it right."""
    head = f"{place}: {message}" if place else message
    return f"{head}\n  hint: {hint}" if hint else head


@dataclass(eq=False)
class KBError(Exception):
    """Base of every failure that missbook reports in one line and exit status 2."""

    message: str
    hint: str = ""
    place: Place | None = None

    def __str__(self) -> str:
        return one_line(self.message, self.place, self.hint)


class NoBaseError(KBError):
    """There is no base here, or its folder cannot be read or written."""


class FormatError(NoBaseError):
    """A file cannot be understood at all; its place is always known."""

    @classmethod
    def of(cls, problem: Problem) -> FormatError:
        """The error that stops at a problem."""
        return cls(problem.message, problem.hint, problem.place)


class NotFoundError(KBError):
    """No such note, area or question."""


class QueryError(KBError):
    """A question put to missbook cannot be understood."""


class ConflictError(KBError):
    """A file changed since it was read, or another process holds the lock."""


class DerivedError(KBError):
    """The full-text index or the catalogue cannot be used and could not be rebuilt."""


def why(error: OSError) -> str:
    """What the system says of an error, without the name of the file."""
    return (error.strerror or str(error)).lower()


def nearest(word: str, known: Iterable[str], also: Mapping[str, str] | None = None) -> str:
    """A hint naming what the caller may have meant by the word typed: up to two known names, or all
    if few. `also` are other names, such as a title -> the name it stands for.
    """
    from difflib import SequenceMatcher, get_close_matches

    names = sorted(set(known))
    spelled = {name.casefold(): name for name in names}
    for spelling, name in (also or {}).items():
        spelled.setdefault(spelling.casefold(), name)
    wanted = " ".join(word.casefold().split())
    close = get_close_matches(wanted, spelled, n=4, cutoff=0.6)
    likeness = [SequenceMatcher(None, spelling, wanted).ratio() for spelling in close]
    close = [s for s, like in zip(close, likeness, strict=True) if like > likeness[0] - LESS_LIKE]
    if not close and len(wanted) >= SHORTEST_PART:
        close = sorted(spelling for spelling in spelled if wanted in spelling)[:2]
    if close:
        meant = list(dict.fromkeys(spelled[spelling] for spelling in close))
        return "did you mean " + " or ".join(meant[:2]) + "?"
    if 0 < len(names) <= FEW:
        return "known are: " + ", ".join(names)
    return ""


def likely_slip(word: str, known: Iterable[str]) -> str:
    """The known name that `word` is most likely a misspelling of; empty if there is none.

    Names that differ in their numbers, such as paper-5 and paper-6, are different on purpose.
    """
    from difflib import get_close_matches

    alike = [name for name in sorted(set(known)) if _digits(name) == _digits(word)]
    return "".join(get_close_matches(word, alike, n=1, cutoff=0.8))


def _digits(text: str) -> str:
    return "".join(character for character in text if character.isdigit())
