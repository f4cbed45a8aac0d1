"""The one open base behind the page: shared by all requests, opened anew when a file changed."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from kb.session import Session

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date, datetime
    from pathlib import Path


class Desk:
    """Hands the open base to one request at a time.

    Args:
        root: The base's folder.
        clock: Tells the present moment, aware.
        device: Names this device's log files.
        as_of: Look at the base as it stood at the end of that day.
    """

    def __init__(
        self, root: Path, *, clock: Callable[[], datetime], device: str, as_of: date | None
    ) -> None:
        self.root, self.clock = root, clock
        self._session = Session(root, now=clock(), device=device, as_of=as_of)
        self._lock = threading.Lock()

    def take(self) -> Session:
        """The open base, as the files are now; nobody else has it until it is given back."""
        self._lock.acquire()
        try:
            self._session = self._session.later(self.clock())
        except BaseException:
            self._lock.release()
            raise
        return self._session

    def give_back(self) -> None:
        """Let the next request have it."""
        self._lock.release()
