"""The options of a report or chart, read the same way from the command line and the page."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from typing import TYPE_CHECKING, Any

from kb.core.errors import QueryError, nearest
from kb.core.wording import listed
from kb.presentation.report_model import Option

if TYPE_CHECKING:
    from kb.core.settings import Exam  # a search does without it

LARGEST = 100_000
"""Largest whole number of an option: as days it reaches back beyond any exam, and still gives a
date."""

KINDS = {
    "int": "a whole number, such as 10",
    "float": "a number, such as 20",
    "date": "a date, such as 2027-01-14",
}
"""What a value of each kind must be, for messages."""

LONGEST = 1000
"""Characters of an option's words. A longer search would take minutes and find no more."""


def chosen(
    options: Sequence[Option], given: Mapping[str, Any] | None, exam: Callable[[], Exam]
) -> dict[str, Any]:
    """The value of each option of a report or chart; those not given take their defaults.

    `exam` is called only when an area was asked for.

    Raises:
        NotFoundError: An option names an area that does not exist.
        QueryError: There is no such option, or a value is not of its kind.
    """
    left = dict(given or {})
    found = {option.name: _value(option, left.pop(option.name, None), exam) for option in options}
    if left:
        unknown = ", ".join(sorted(left))
        known = sorted(option.name for option in options)
        hint = f"the options here are {listed(known)}" if known else "it has none"
        raise QueryError(f"there is no option '{unknown}' here", hint=hint)
    return found


def _value(option: Option, value: object, exam: Callable[[], Exam]) -> object:
    if value is None or value == "":
        if option.required:
            raise QueryError(f"{_label(option)}: nothing was typed")
        return option.default
    try:
        value = _CONVERT[option.kind](value)
    except (TypeError, ValueError) as error:
        wanted = f"{_label(option)} must be {KINDS[option.kind]}"
        raise QueryError(f"{wanted}; you typed '{value}'") from error
    _bounded(option, value)
    if option.required and isinstance(value, str) and not value.strip():
        raise QueryError(f"{_label(option)}: nothing was typed")
    if option.kind == "area":
        return exam().area(str(value)).id
    if option.choices and value not in option.choices:
        known = [choice for choice in option.choices if choice]
        hint = nearest(str(value), known) or "one of " + ", ".join(known)
        raise QueryError(f"{_label(option)}: '{value}' is not known", hint)
    return value


def _bounded(option: Option, value: object) -> None:
    """Refuse a value that no computation allows for."""
    if isinstance(value, int | float) and not abs(value) <= LARGEST:
        raise QueryError(f"{_label(option)} must be at most {LARGEST}")
    if isinstance(value, int | float) and option.least is not None and value < option.least:
        raise QueryError(f"{_label(option)} must be {option.least:g} or more; you typed {value:g}")
    if isinstance(value, str) and len(value) > LONGEST:
        raise QueryError(f"{_label(option)} may have at most {LONGEST} characters")


def _label(option: Option) -> str:
    return option.name.replace("_", " ")


_CONVERT: dict[str, Callable[[Any], object]] = {
    "int": int,
    "float": float,
    "text": str,
    "flag": lambda given: given is True or str(given).casefold() in ("1", "true", "yes", "on"),
    "date": lambda given: given if isinstance(given, date) else date.fromisoformat(str(given)),
    "area": str,
    "words": lambda given: " ".join(given) if isinstance(given, tuple | list) else str(given),
}
