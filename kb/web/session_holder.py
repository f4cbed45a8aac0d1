"""The one open base behind the page: shared by all requests, reopened when a file changed.

Reading thousands of notes for the first time takes seconds. A thread does that, so that a page can
say how far it is instead of hanging.
"""

from collections.abc import Callable
from concurrent.futures import Future, wait
from contextlib import suppress
from datetime import date, datetime
from pathlib import Path
from threading import Lock, Thread
from typing import NamedTuple

from kb.services.session import Session

PATIENCE_SECONDS = 1.0
"""How long a page waits, in seconds, before it says what is going on."""

FORM_PATIENCE_SECONDS = 120.0
"""A form waits: turning it away would lose what was typed."""


class Going(NamedTuple):
    """Progress of long work; `total` is 0 when it is not known."""

    what: str = "Opening the base"
    done: int = 0
    total: int = 0


IDLE = Going("Working on another page")


class BusyError(Exception):
    """The base is being read, or another request is being answered."""

    def __init__(self, going: Going) -> None:
        super().__init__(going.what)
        self.going = going


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
        self.patience_seconds = PATIENCE_SECONDS
        self.going = IDLE
        self.loading: Future[None] = Future()
        self._session = Session(root, now=clock(), device=device, as_of=as_of)
        self._session.watch = self._watch
        self._stop_recording: Callable[[], object] = lambda: None
        self._lock = Lock()

    def begin(self) -> None:
        """Load the base already: whoever opens a browser now need not wait as long."""
        self._lock.acquire()
        with suppress(BusyError):
            self._load(indexed=False, seconds=0)
            self._lock.release()

    def borrow(self, *, indexed: bool = False, waits: bool = False) -> Session:
        """The open base, as the files are now; nobody else has it until it is released.

        Args:
            indexed: The full-text index will be used.
            waits: Wait however long it takes, within reason.

        Raises:
            BusyError: It is not free in time.
        """
        seconds = FORM_PATIENCE_SECONDS if waits else self.patience_seconds
        if not self._lock.acquire(timeout=seconds):
            raise BusyError(self.going)
        try:
            self._session = self._session.later(self.clock())
            ready = self._session.ready(indexed=indexed)
        except BaseException:
            self._lock.release()
            raise
        if not ready:
            self._load(indexed, seconds)
        self._stop_recording = self._session.record_acts(self.clock()).stop
        return self._session

    def make_ready(self, session: Session, *, waits: bool = False) -> None:
        """Bring the index of an acquired session up to date.

        Raises:
            BusyError: That takes longer; the session is no longer the caller's.
        """
        if not session.ready(indexed=True):
            self._load(True, FORM_PATIENCE_SECONDS if waits else self.patience_seconds)

    def _load(self, indexed: bool, seconds: float) -> None:
        self.going, self.loading = Going(), Future()
        Thread(target=self._read, args=(self.loading, indexed), daemon=True).start()
        if not wait([self.loading], seconds).done:
            # Nobody waits any longer: the base is released as soon as it is loaded.
            self.loading.add_done_callback(self._release)
            raise BusyError(self.going)
        self.going = IDLE
        if error := self.loading.exception():
            self._lock.release()
            raise error

    def _read(self, loading: Future[None], indexed: bool) -> None:
        try:
            _ = self._session.base
            if indexed:
                _ = self._session.index
        except BaseException as error:
            loading.set_exception(error)
        else:
            loading.set_result(None)

    def _watch(self, what: str, done: int, total: int) -> None:
        self.going = Going(what, done, total)

    def give_back(self) -> None:
        """Let the next request have it."""
        self._stop_recording()
        self._release()

    def _release(self, _loaded: object = None) -> None:
        self.going = IDLE
        self._lock.release()
