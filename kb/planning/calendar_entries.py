"""What a calendar file is written from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from datetime import date, time


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One event. With `start` it lasts `minutes` from that hour; without, it takes the day."""

    day: date
    kind: str
    title: str
    detail: str = ""
    start: time | None = None
    minutes: int = 0
