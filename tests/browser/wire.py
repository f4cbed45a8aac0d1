"""Requests written byte by byte, as no browser would send them."""

from __future__ import annotations

import json
import socket
import time
from contextlib import suppress
from dataclasses import dataclass
from http.client import HTTPResponse
from typing import TYPE_CHECKING
from urllib.parse import urlencode

if TYPE_CHECKING:
    from serving import Server


PATIENCE_S = 30
"""A busy machine needs long; what is asserted is never how fast it was."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reply:
    """An answer as it came over the wire."""

    status: int
    headers: tuple[tuple[str, str], ...]
    body: bytes

    @property
    def text(self) -> str:
        """The body as text."""
        return self.body.decode("utf-8", "replace")

    def header(self, name: str) -> str:
        """The value of a header; empty if there is none."""
        return next((value for key, value in self.headers if key.lower() == name.lower()), "")


def ask(
    server: Server,
    target: str | bytes,
    *,
    method: str = "GET",
    headers: dict[str, str] | None = None,
    body: bytes = b"",
) -> Reply:
    """Send one request exactly as given and read the answer; a header of None is left out."""
    path = target.encode() if isinstance(target, str) else target
    sent = {"Host": f"127.0.0.1:{server.port}", "Connection": "close", **(headers or {})}
    cookies = [part for part in (server.cookie, sent.get("Cookie")) if part]
    sent["Cookie"] = "; ".join(cookies)
    if body and "Content-Length" not in sent and "Transfer-Encoding" not in sent:
        sent["Content-Length"] = str(len(body))
    lines = b"".join(f"{name}: {value}\r\n".encode() for name, value in sent.items() if value)
    with socket.create_connection(("127.0.0.1", server.port), PATIENCE_S) as wire:
        with suppress(OSError):  # refused before all was sent: the answer is there to be read
            wire.sendall(method.encode() + b" " + path + b" HTTP/1.1\r\n" + lines + b"\r\n" + body)
        return _read(wire, method)


def cut_off_trickling(server: Server, first: bytes) -> bool:
    """Whether a connection that goes on with a letter every tenth of a second is cut off."""
    with socket.create_connection(("127.0.0.1", server.port), 10) as wire:
        wire.sendall(first)
        for _ in range(10 * PATIENCE_S):
            try:
                wire.sendall(b"a")
            except OSError:
                return True
            time.sleep(0.1)
    return False


def _read(wire: socket.socket, method: str) -> Reply:
    answer = HTTPResponse(wire, method=method)
    answer.begin()
    body = answer.read()
    return Reply(status=answer.status, headers=tuple(answer.getheaders()), body=body)


@dataclass(frozen=True, slots=True, kw_only=True)
class Key:
    """What a browser has after it opened a page: the cookie, and the token of the forms."""

    cookie: str
    token: str


def key(server: Server) -> Key:
    """What a browser holds once it has opened the page."""
    reply = ask(server, "/token")
    assert reply.status == 200, reply.text[:300]
    return Key(
        cookie=reply.header("Set-Cookie").split(";")[0], token=str(json.loads(reply.body)["token"])
    )


def send_form(
    server: Server,
    path: str,
    fields: dict[str, str],
    *,
    cookie: str = "",
    headers: dict[str, str] | None = None,
) -> Reply:
    """Send a form as a browser would."""
    sent = {
        "Cookie": cookie,
        "Content-Type": "application/x-www-form-urlencoded",
        **(headers or {}),
    }
    return ask(server, path, method="POST", headers=sent, body=urlencode(fields).encode())
