"""Lists in pages: the two options that every list has, and the line that leads to the next page."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any, TypeVar, overload

from kb.core.errors import QueryError
from kb.presentation.report_model import Block, Entries, Option, Text

T = TypeVar("T")
Made = TypeVar("Made")
LIMIT = 10
"""Entries of a page unless a report says otherwise."""


def paged(limit: int = LIMIT) -> tuple[Option, Option]:
    """The options --limit and --page of a list."""
    return (
        Option("limit", "int", default=limit, least=1, unit="n", help="Entries on a page."),
        Option("page", "int", default=1, least=1, unit="n", help="Which page to show."),
    )


class MadeLater(Sequence[Made]):
    """Entries of a long list, of which only those shown are made."""

    def __init__(self, rows: Sequence[Any], make: Callable[[Any], Made]) -> None:
        self._rows, self._make = rows, make

    def __len__(self) -> int:
        return len(self._rows)

    @overload
    def __getitem__(self, place: int) -> Made: ...
    @overload
    def __getitem__(self, place: slice) -> tuple[Made, ...]: ...
    def __getitem__(self, place: int | slice) -> Made | tuple[Made, ...]:
        rows = self._rows[place]
        return tuple(map(self._make, rows)) if isinstance(place, slice) else self._make(rows)


def page_of(rows: Sequence[T], limit: int, page: int) -> Sequence[T]:
    """The rows of one page, counted from 1."""
    return rows[(page - 1) * limit : page * limit]


def first_of(limit: int, page: int) -> int:
    """The number of the first row of a page."""
    return (page - 1) * limit + 1


def no_page(total: int, page: int) -> str:
    """What a page beyond the last one says; empty when the list itself is empty."""
    return f"There is no page {page}: {total} in all." if total and page > 1 else ""


def next_page(command: str, total: int, limit: int, page: int) -> list[Block]:
    """`11-20 of 53. Next: missbook queue --page 3`, or nothing on the last page."""
    last = page * limit
    text = f"{first_of(limit, page)}-{last} of {total:,}. Next: {onward(command, limit, page)}"
    return [Text(text, quiet=True)] if last < total else []


def onward(command: str, limit: int, page: int, default: int = LIMIT) -> str:
    """The whole command for the page after this one of a list, from what to type for the list."""
    own = f" --limit {limit}" if limit != default else ""
    return f"missbook {command}{own} --page {page + 1}"


def paged_lists(
    blocks: Sequence[Block], command: str, limit: int, page: int, default: int = LIMIT
) -> list[Block]:
    """One page of each list; after the first page only lists that go on. The last line leads on.

    Raises:
        QueryError: No list goes on so far.
    """
    lists = [block for block in blocks if isinstance(block, Entries)]
    longest = max((len(block.entries) for block in lists), default=0)
    if page > 1 and longest <= (page - 1) * limit:
        raise QueryError(f"there is no page {page}", f"missbook {command}")
    kept: list[Block] = []
    for block in blocks:
        if isinstance(block, Entries):
            entries = tuple(page_of(block.entries, limit, page))
            if entries or page == 1:
                kept.append(replace(block, entries=entries, first=first_of(limit, page)))
        elif page == 1:
            kept.append(block)
    if longest > page * limit:
        kept.append(Text(f"More: {onward(command, limit, page, default)}", quiet=True))
    return kept


def typed(name: str, words: str = "", **options: object) -> str:
    """A command as it would be typed; options without a value are left out."""
    parts = [name]
    if words:
        parts.append(words if re.fullmatch(r"[\w :./+=-]*", words) else shlex.quote(words))
    for option, value in options.items():
        if value not in (None, ""):
            parts.append(f"--{option.replace('_', '-')} {shlex.quote(str(value))}")
    return " ".join(parts)
