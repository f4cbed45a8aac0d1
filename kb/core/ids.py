"""The identifiers of records, and the words that the log may use for an answer."""

from __future__ import annotations

import re
from typing import Literal, NewType, get_args

from kb.core.errors import Place

try:  # hashlib itself loads a whole cryptographic library
    from _blake2 import blake2b
except ImportError:
    from hashlib import blake2b

NoteId = NewType("NoteId", str)
AreaId = NewType("AreaId", str)
QuestionId = NewType("QuestionId", str)
AttemptId = NewType("AttemptId", str)

Outcome = Literal["right", "wrong", "blank"]
Reason = Literal["", "unknown", "forgotten", "misread", "two-left", "switched", "rushed"]
Round = Literal["", "first", "second", "paper"]
SourceKind = Literal["bank", "paper", "mock", "course"]
RenameKind = Literal["area", "source", "concept", "item"]
State = Literal["untested", "holding", "failing"]

OUTCOMES: tuple[str, ...] = get_args(Outcome)
REASONS: tuple[str, ...] = tuple(word for word in get_args(Reason) if word)
ROUNDS: tuple[str, ...] = tuple(word for word in get_args(Round) if word)
SOURCE_KINDS: tuple[SourceKind, ...] = get_args(SourceKind)

OUTCOME_OF: dict[str, Outcome] = {word: word for word in get_args(Outcome)}
REASON_OF: dict[str, Reason] = {word: word for word in get_args(Reason)}
RENAME_KIND_OF: dict[str, RenameKind] = {word: word for word in get_args(RenameKind)}
ROUND_OF: dict[str, Round] = {word: word for word in get_args(Round)}
"""The words that a log may use; any other raises KeyError."""

NO_AREA = AreaId("")
NOWHERE = Place("")


_QUESTION = re.compile(r"\s*([\w.-]+)\s*:\s*([\w.-]+)\s*")
"""Python's letters, digits and `_`, with `-` and `.`."""
_NO_ITEM = re.compile(r"0+|\d+[eE]\d+")
MOST_DIGITS = 15
"""More are no number of anything here, and Python refuses to read very many."""


def parse_question(text: str) -> QuestionId | None:
    """A question reference `source:item` in its one spelling, or None if it is not one.

    Source and item are letters, digits, `-`, `_` and `.`; the source is lower-cased.
    """
    match = _QUESTION.fullmatch(text)
    return QuestionId(f"{match[1].casefold()}:{match[2]}") if match else None


def parse_new_question(text: str) -> QuestionId | None:
    """A reference as it may be logged from now on: as `parse_question`, but its item is no number
    below 1, in powers of ten or in other digits than 0 to 9, which a spreadsheet may have made.
    """
    item = text.rpartition(":")[2].strip()
    plain = item[:1].isalnum() and not _NO_ITEM.fullmatch(item)
    strange = any(sign.isdigit() and not sign.isascii() for sign in item)
    return parse_question(text) if plain and not strange else None


def whole_number(text: str) -> int | None:
    """A number from 0 in digits 0 to 9, at most fifteen; None for any other text."""
    return int(text) if text.isascii() and text.isdigit() and len(text) <= MOST_DIGITS else None


def digest(*parts: str) -> str:
    """Sixteen hexadecimal digits that stand for these parts, in this order."""
    return blake2b("\x1f".join(parts).encode(), digest_size=8).hexdigest()
