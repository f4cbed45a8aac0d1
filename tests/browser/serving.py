"""The local page served as it is in earnest, by waitress, from a thread of the test's own."""

from __future__ import annotations

import socket
import threading
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from waitress import create_server

from kb.web.server import SETTINGS, limited

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).parent.parent.parent
DAY = date(2027, 4, 5)
KEY = "k" * 43
"""The key of every page that is served here."""
LONGEST_ANSWER_S = 60
"""A busy machine may take so long over one screen; waitress itself waits for five seconds."""
NOON = datetime(2027, 4, 5, 12, tzinfo=UTC)
"""The demo base ends on this day."""


class Server:
    """A WSGI application on a free port of 127.0.0.1; it can stop and come back on that port.

    Args:
        make: Makes the application for a port.
        root: The base's folder, for tests that look at the files afterwards.
        keyed: Whether visitors have the key.
        certificate: The file with which connections may be encrypted.
        settings: Settings of waitress in place of those in earnest.
    """

    def __init__(
        self,
        make: Callable[[int], Any],
        root: Path,
        *,
        keyed: bool = True,
        certificate: Path | None = None,
        **settings: Any,
    ) -> None:
        self.root, self._settings, self.keyed = root, {**SETTINGS, **settings}, keyed
        self._certificate = certificate
        self.port = 0
        listening = self._listen()
        try:
            self._app = make(self.port)
        except BaseException:
            listening.close()
            raise
        self._run(listening)

    @property
    def address(self) -> str:
        """Where the start screen is, without the last slash."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def cookie(self) -> str:
        """The cookie of a browser that has the key; empty if visitors have none."""
        return f"missbook-{self.port}-key={KEY}" if self.keyed else ""

    def _listen(self) -> socket.socket:
        listening = socket.socket()
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(("127.0.0.1", self.port))
        listening.listen(64)
        self.port = listening.getsockname()[1]
        return listening

    def _run(self, listening: socket.socket) -> None:
        made = create_server(self._app, sockets=[listening], map={}, **self._settings)
        self._server: Any = limited(made, self._certificate)
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def _serve(self) -> None:
        server = self._server
        while not self._stopping.is_set():
            server.asyncore.loop(timeout=0.05, map=server._map, count=1)
        # Only this thread may close the sockets it waits for. The workers end before the rest is
        # closed: one still answering would write to a number that another file has by then.
        for connection in list(server.active_channels.values()):
            connection.handle_close()
        server.task_dispatcher.shutdown(timeout=LONGEST_ANSWER_S)
        server.asyncore.close_all(server._map)

    def stop(self) -> None:
        """Close every connection and stop listening, as a lost connection looks from outside."""
        self._stopping.set()
        self._thread.join(2 * LONGEST_ANSWER_S)
        assert not self._thread.is_alive()

    def start(self) -> None:
        """Serve again on the same port, with the same application."""
        self._run(self._listen())
