"""The certificate that this machine makes itself: what it says, how long it is kept."""

from __future__ import annotations

import hashlib
import ssl
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from kb.services.certificate import LEAST_DAYS, VALID_DAYS, own_certificate

if TYPE_CHECKING:
    from pathlib import Path

NOW = datetime(2027, 2, 14, 12, tzinfo=UTC)
HOSTS = ("192.168.7.5", "ward", "ward.local")


def der(path: Path) -> bytes:
    """The certificate in a file, as the standard library reads it."""
    text = path.read_text(encoding="ascii")
    begin = text.index("-----BEGIN CERTIFICATE")
    return ssl.PEM_cert_to_DER_cert(text[begin:])


def test_the_fingerprint_is_the_digest_that_browsers_show(tmp_path: Path) -> None:
    """SHA-256 of the certificate in DER, in pairs of digits; the file is outside the base."""
    own = own_certificate(tmp_path, HOSTS, NOW)
    assert own.fingerprint.replace(":", "") == hashlib.sha256(der(own.path)).hexdigest().upper()
    assert tmp_path not in own.path.parents
    ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER).load_cert_chain(own.path)


@pytest.mark.parametrize(
    ("hosts", "days", "kept"),
    [
        (HOSTS, 0, True),
        (HOSTS[:1], 0, True),
        (HOSTS, VALID_DAYS - LEAST_DAYS - 1, True),
        (HOSTS, VALID_DAYS - LEAST_DAYS, False),
        (("192.168.7.6", *HOSTS), 0, False),
        (HOSTS, -2, False),
    ],
)
def test_it_is_kept_while_it_fits(
    tmp_path: Path, hosts: tuple[str, ...], days: int, kept: bool
) -> None:
    """A new address, the last month, or a clock before its first day bring a new one."""
    first = own_certificate(tmp_path, HOSTS, NOW)
    later = own_certificate(tmp_path, hosts, NOW + timedelta(days=days))
    assert (later.fingerprint == first.fingerprint) is kept


def test_a_damaged_file_is_replaced(tmp_path: Path) -> None:
    """Nothing is to be done by hand; a name that no certificate can hold is left out."""
    path = own_certificate(tmp_path, HOSTS, NOW).path
    path.write_text("torn", encoding="ascii")
    assert len(own_certificate(tmp_path, (*HOSTS, "station-ä"), NOW).fingerprint) == 95
