"""How records are declared of which a base holds a hundred thousand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable
    from dataclasses import dataclass as record
else:

    def record(*, frozen: bool, kw_only: bool = False) -> Callable[[type], type]:
        """Declare a dataclass that only the type checker keeps from being changed.

        A frozen dataclass takes ten times as long to make: most of the time to read a log.
        """
        return dataclass(unsafe_hash=frozen, slots=True, kw_only=kw_only)


__all__ = ["record"]
