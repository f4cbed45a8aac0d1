"""What was read of a base so far, kept from one request to the next."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from kb.storage.note_catalogue import Catalogue

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    from kb.core.model import Base
    from kb.search import Index
    from kb.storage.attempt_store import LogMemory
    from kb.storage.base_facts import BaseFacts
    from kb.storage.scan import FileStat

Watch = Callable[[str, int, int], None]
"""Told how long work goes: what is being done, how much so far, of how much (0 if unknown)."""


@dataclass(slots=True)
class Loaded:
    """What was read for one state of the files; each part is filled in on first use."""

    seen: tuple[FileStat, ...] = ()
    files: tuple[FileStat, ...] | None = None
    base_mark: str | None = None
    facts: BaseFacts | None = None
    whole: Base | None = None
    base: Base | None = None
    base_day: date | None = None
    index: Index | None = None


class OpenFolder:
    """The folder of a base and what was read of it: handed on from one session to the next."""

    def __init__(self, root: Path) -> None:
        self.catalogue = Catalogue(root)
        self.watch: Watch = lambda *_: None
        self.loaded = Loaded()

    @cached_property
    def memory(self) -> LogMemory:
        """The log as far as it was read."""
        from kb.storage.attempt_store import LogMemory

        return LogMemory(self.catalogue.store)
