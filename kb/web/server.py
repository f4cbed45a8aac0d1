"""A server for the page: its limits, and the addresses it has on the local network."""

import ipaddress
import logging
import socket
import ssl
import threading
import time
from collections import Counter
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from flask import Flask
from waitress import create_server
from waitress.channel import HTTPChannel
from waitress.parser import HTTPRequestParser

LOOPBACK = "127.0.0.1"
EVERYWHERE = "0.0.0.0"

SETTINGS = {
    "threads": 8,
    "connection_limit": 300,
    "channel_timeout": 30,
    "cleanup_interval": 10,
    "max_request_header_size": 32 * 1024,
    "max_request_body_size": 4 * 1024 * 1024,
    "recv_bytes": 16 * 1024,
    "ident": None,
    "clear_untrusted_proxy_headers": True,
}
"""A slow connection costs no thread: a request is read whole before a screen sees it. A body beyond
4 MB is refused as soon as it is announced or reached; for what a form may hold see
`request_guard`. Half the threads are spare while forms wait for a slow report. What is read at once
is a whole record of an encrypted connection (RFC 8446, 5.1), so that none of it waits unseen."""

HANDSHAKE = b"\x16"
"""The first byte of an encrypted connection (RFC 8446, 5.1); no plain request begins with it."""

NOT_YET = (ssl.SSLWantReadError, ssl.SSLWantWriteError)

MOST_CONNECTIONS = 100
"""Connections kept at once; it must be far below `connection_limit`, at which none is accepted."""


class _EncryptedRequest(HTTPRequestParser):  # type: ignore[misc] # waitress has no types
    """A request that came over an encrypted connection, and says so."""

    def parse_header(self, header: bytes) -> None:
        """Read the header as of any other request."""
        super().parse_header(header)
        self.url_scheme = "https"


class Connection(HTTPChannel):  # type: ignore[misc] # waitress has no types
    """A connection, encrypted where it begins so, that is closed if a request takes longer than
    `channel_timeout` to arrive, even if it trickles in steadily, and that gives way to a new one
    when there are too many.
    """

    last_activity: float
    socket: socket.socket
    began = False

    def __init__(self, server: Any, *given: Any, **more: Any) -> None:  # noqa: ANN401
        # A connection may be read and written by two threads; the encryption allows one at a time.
        self._turn = threading.Lock()
        super().__init__(server, *given, **more)
        if len(server.active_channels) > MOST_CONNECTIONS:
            _close_one(server.active_channels.values(), self)

    def handle_read(self) -> None:
        """Read what came; while a request is incomplete, only its start counts as activity."""
        try:
            self._begin()
            with self._turn:
                data = self.recv(self.adj.recv_bytes)
        except NOT_YET:
            return
        except OSError:
            self.handle_close()
            return
        if not data:
            self.connected = False
            return
        if self.request is None:
            self.last_activity = time.time()
        self.received(data)

    def _begin(self) -> None:
        if self.began or self.server.encryption is None:
            return
        if self.socket.recv(1, socket.MSG_PEEK) == HANDSHAKE:
            self.socket = self.server.encryption.wrap_socket(
                self.socket, server_side=True, do_handshake_on_connect=False
            )
            self.parser_class = _EncryptedRequest
        self.began = True

    def send(self, data: bytes, do_close: bool = True) -> int:
        """Send some of it; 0 when it must wait."""
        try:
            with self._turn:
                return int(super().send(data, do_close))
        except NOT_YET:
            return 0


def _close_one(connections: Iterable[Any], new: Connection) -> None:
    """Close the oldest connection that waits for a request, of the address with most of them."""
    waiting = [c for c in connections if not c.requests and not c.will_close and c is not new]
    count = Counter(str(c.addr[0]) for c in waiting)
    order = sorted(waiting, key=lambda c: (-count[str(c.addr[0])], c.creation_time))
    if order:
        order[0].will_close = True


def make_server(app: Flask, host: str, port: int, certificate: Path | None = None) -> Any:  # noqa: ANN401
    """A server that is listening, with the base being read; `run()` answers until Ctrl-C.

    Raises:
        OSError: The port is taken.
    """
    # Silence its notices that a request waits for the one before it.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    server = limited(create_server(app, host=host, port=port, **SETTINGS), certificate)
    app.extensions["missbook"].begin()
    return server


def limited(server: Any, certificate: Path | None = None) -> Any:  # noqa: ANN401
    """A server whose connections give way to each other; with a certificate they may be encrypted.

    Args:
        server: One of waitress, which has no types.
        certificate: The file of the certificate and its key.
    """
    server.channel_class, server.encryption = Connection, None
    if certificate is not None:
        server.encryption = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        server.encryption.load_cert_chain(certificate)
    return server


def own_addresses() -> tuple[str, ...]:
    """Addresses of this machine on its networks, the one that reaches others first."""
    found: dict[str, None] = {}
    # Nothing is sent: this only asks the system which of its addresses it would use.
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(("192.0.2.1", 9))
            found[str(probe.getsockname()[0])] = None
        except OSError:
            pass
    try:
        for address in socket.gethostbyname_ex(socket.gethostname())[2]:
            found[address] = None
    except OSError:
        pass
    return tuple(address for address in found if not ipaddress.ip_address(address).is_loopback)


def own_names() -> tuple[str, ...]:
    """Names of this machine on its networks."""
    name = socket.gethostname().casefold()
    return (name, f"{name.split('.')[0]}.local") if name else ()
