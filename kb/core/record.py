"""The form of the records where time counts: frozen to the type checker alone.

A frozen dataclass takes four times as long to make, and a base of a year's answers makes twenty
thousand of them each time it is opened; its class takes twice as long, and a search starts with
none. mypy still refuses every assignment to a field.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TypeVar, dataclass_transform

T = TypeVar("T")


@dataclass_transform(frozen_default=True, kw_only_default=True, field_specifiers=(field,))
def record(cls: type[T]) -> type[T]:
    """A dataclass with slots, compared and hashed by its fields, all given by name."""
    return dataclass(slots=True, kw_only=True, unsafe_hash=True)(cls)
