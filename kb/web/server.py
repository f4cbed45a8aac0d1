"""A server for the page: its limits, and the addresses it has on the local network."""

from __future__ import annotations

import ipaddress
import logging
import socket
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from flask import Flask

LOOPBACK = "127.0.0.1"
EVERYWHERE = "0.0.0.0"

SETTINGS = {
    "threads": 4,
    "connection_limit": 100,
    "channel_timeout": 30,
    "cleanup_interval": 10,
    "max_request_header_size": 32 * 1024,
    "max_request_body_size": 4 * 1024 * 1024,
    "ident": None,
    "clear_untrusted_proxy_headers": True,
}
"""A connection idle for 30 seconds is closed. A slow one costs a connection, not a thread: a
request is read whole before a screen sees it. A body beyond 4 MB is refused as soon as it is
announced or reached; the page itself takes less (`request_guard`)."""


def make_server(app: Flask, host: str, port: int) -> Any:  # noqa: ANN401 - waitress has no types
    """A server that is listening; `run()` answers until Ctrl-C.

    Raises:
        OSError: The port is taken.
    """
    from waitress import create_server

    # Silence its warnings that requests are queueing.
    logging.getLogger("waitress.queue").setLevel(logging.ERROR)
    return create_server(app, host=host, port=port, **SETTINGS)


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
