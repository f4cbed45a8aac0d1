"""The page over an encrypted connection of its own certificate, and plainly on this machine."""

from __future__ import annotations

import socket
import ssl
from contextlib import closing
from datetime import UTC, datetime
from http.client import HTTPSConnection
from typing import TYPE_CHECKING

import pytest
from flask import Flask
from wire import PATIENCE_S, ask, cut_off_trickling

from kb.services.certificate import own_certificate
from kb.web.login import Door, Passphrase

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from serving import Server

WORDS = "seven slow herons by the weir"


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The certificate of a base, valid now."""
    base = tmp_path_factory.mktemp("certified")
    return own_certificate(base, ("127.0.0.1",), datetime.now(UTC)).path


@pytest.fixture(scope="module")
def encrypted(demo_server: Callable[..., Server], certificate: Path) -> Server:
    """The demo base behind a passphrase, with a certificate."""
    door = Door(Passphrase.of(WORDS), fingerprint="AB:CD")
    return demo_server(lan=door, certificate=certificate)


def trusting(certificate: Path) -> ssl.SSLContext:
    """What a phone knows that was told to trust it: names and dates are checked too."""
    return ssl.create_default_context(cafile=str(certificate))


def secure(
    server: Server, certificate: Path, method: str, path: str, body: bytes = b""
) -> tuple[int, str, bytes]:
    """Status, cookie and body of the answer to one request over an encrypted connection."""
    line = HTTPSConnection(
        "127.0.0.1", server.port, timeout=PATIENCE_S, context=trusting(certificate)
    )
    line.request(method, path, body, {"Content-Type": "application/x-www-form-urlencoded"})
    with closing(line), line.getresponse() as reply:
        return reply.status, str(reply.getheader("Set-Cookie")), reply.read()


def test_the_page_is_encrypted_and_shows_its_fingerprint(
    encrypted: Server, certificate: Path
) -> None:
    """The form for the passphrase says how to know the connection; cookies stay encrypted."""
    status, cookie, body = secure(encrypted, certificate, "GET", "/login")
    assert status == 200
    assert b"AB:CD" in body
    assert b"not encrypted" not in body
    assert "; Secure" in cookie


def test_what_is_longer_than_one_record_arrives_whole(encrypted: Server, certificate: Path) -> None:
    """A form of 200 kB, and a file of several records back."""
    sent = b"token=" + b"x" * 200_000
    assert secure(encrypted, certificate, "POST", "/login", sent)[0] == 403
    sheet = secure(encrypted, certificate, "GET", "/static/page.css")[2]
    assert sheet == ask(encrypted, "/static/page.css").body
    assert len(sheet) > 10_000


def test_this_machine_may_go_on_without_encryption(encrypted: Server) -> None:
    """Nobody else can listen there, and its browser need not be taught to trust anything."""
    assert ask(encrypted, "/login").status == 200


def test_a_handshake_that_trickles_in_is_cut_off(
    serve: Callable[..., Server], certificate: Path, tmp_path: Path
) -> None:
    """A letter every tenth of a second does not keep a connection open for ever."""
    limits = {"channel_timeout": 1, "cleanup_interval": 1}
    server = serve(lambda _: Flask("empty"), tmp_path, certificate=certificate, **limits)
    begun = b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03"
    assert cut_off_trickling(server, begun)


def test_who_does_not_trust_it_is_no_trouble(encrypted: Server, certificate: Path) -> None:
    """A browser that refuses the certificate leaves, and the next is served."""
    with (
        pytest.raises(ssl.SSLCertVerificationError),
        socket.create_connection(("127.0.0.1", encrypted.port), PATIENCE_S) as wire,
    ):
        ssl.create_default_context().wrap_socket(wire, server_hostname="127.0.0.1")
    assert secure(encrypted, certificate, "GET", "/login")[0] == 200
