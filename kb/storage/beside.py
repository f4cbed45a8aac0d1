"""One piece of work done beside other work.

Where a process can be copied cheaply the work gets one of its own: thousands of short waits for
the disk would make a thread of ours wait for its turn after each of them. Elsewhere, and where
there are other threads already, it is a thread.
"""

from __future__ import annotations

import gc
import marshal
import os
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable

PIECE = 1 << 20
"""Bytes read at once."""
MOST_HELPERS = 4
"""More processes gain nothing: they wait for one disk."""


class Beside:
    """Work that begins now and is waited for later.

    Args:
        work: What to do. It changes nothing, and gives plain values: None, numbers, text, lists,
            tuples, dictionaries.
    """

    def __init__(self, work: Callable[[], Any]) -> None:
        self._work = work
        self._value: Any = None
        self._pipe = -1
        self._process = 0
        self._thread: Any = None
        if _may_copy():
            self._copy()
        else:
            self._begin_thread()

    def result(self) -> Any:  # noqa: ANN401 - whatever the work gives
        """What the work gave, waited for; None if it failed."""
        if self._thread is not None:
            self._thread.join()
        elif self._pipe >= 0:
            self._receive()
        return self._value

    def _do(self) -> None:
        try:
            self._value = self._work()
        except (OSError, ValueError, TypeError):
            self._value = None

    def _begin_thread(self) -> None:
        from threading import Thread

        self._thread = Thread(target=self._do, daemon=True)
        self._thread.start()

    def _copy(self) -> None:
        self._pipe, writing = os.pipe()
        self._process = os.fork()
        if self._process:
            os.close(writing)
            return
        gc.disable()  # it would look through all memory, and so copy it
        try:
            self._do()
            with os.fdopen(writing, "wb") as stream:
                stream.write(marshal.dumps(self._value))
        finally:  # whatever happens, the copy does nothing else
            os._exit(0)

    def _receive(self) -> None:
        pieces = []
        while piece := os.read(self._pipe, PIECE):
            pieces.append(piece)
        os.close(self._pipe)
        os.waitpid(self._process, 0)
        self._pipe = -1
        try:
            self._value = marshal.loads(b"".join(pieces))
        except (EOFError, ValueError, TypeError):
            self._value = None


def helper_count() -> int:
    """Pieces of work that go on side by side: as many as there are processors, a few at most."""
    return min(MOST_HELPERS, os.cpu_count() or 1) if _may_copy() else 1


def _may_copy() -> bool:
    """Whether a copy of this process is safe: one thread only, on a system made for it."""
    if sys.platform != "linux" or not hasattr(os, "fork"):
        return False
    threads = sys.modules.get("threading")
    return threads is None or threads.active_count() == 1
