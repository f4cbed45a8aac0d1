"""A certificate that this machine makes for itself, so that a phone's passphrase is not sent in the
clear. It lies with its key in the private cache folder, and is kept until an address changes.
"""

from collections.abc import Sequence
from datetime import datetime, timedelta
from ipaddress import ip_address
from pathlib import Path
from typing import NamedTuple

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509 import Certificate, GeneralName
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

from kb.storage.atomic_files import replace_file
from kb.storage.cache_folder import cache_folder

NAME = "certificate.pem"
VALID_DAYS, LEAST_DAYS = 397, 30
"""Browsers refuse certificates valid for much longer than a year; one near its end is replaced."""


class OwnCertificate(NamedTuple):
    """The file with key and certificate, and the certificate's SHA-256 as browsers show it."""

    path: Path
    fingerprint: str


def own_certificate(root: Path, hosts: Sequence[str], now: datetime) -> OwnCertificate:
    """The certificate for these names and addresses (RFC 5280), made if there is none that fits."""
    path = cache_folder(root) / NAME
    names = _names(hosts)
    try:
        found = x509.load_pem_x509_certificate(path.read_bytes())
    except (OSError, ValueError):
        found = None
    if found is None or not _fits(found, names, now):
        found = _made(path, names, now)
    digest = found.fingerprint(hashes.SHA256())
    return OwnCertificate(path, ":".join(f"{byte:02X}" for byte in digest))


def _names(hosts: Sequence[str]) -> list[GeneralName]:
    names: list[GeneralName] = []
    for host in dict.fromkeys((*hosts, "localhost", "127.0.0.1")):
        try:
            names.append(x509.IPAddress(ip_address(host)))
        except ValueError:
            if host.isascii():
                names.append(x509.DNSName(host))
    return names


def _fits(found: Certificate, names: list[GeneralName], now: datetime) -> bool:
    listed = found.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    lasts = found.not_valid_after_utc - now > timedelta(days=LEAST_DAYS)
    return lasts and found.not_valid_before_utc <= now and {*names} <= {*listed}


def _made(path: Path, names: list[GeneralName], now: datetime) -> Certificate:
    key = ec.generate_private_key(ec.SECP256R1())
    own = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "missbook on this computer")])
    server = x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH])
    made = (
        x509.CertificateBuilder(own, own, key.public_key(), x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=VALID_DAYS))
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(server, critical=False)
        .sign(key, hashes.SHA256())
    )
    secret = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.NoEncryption(),
    )
    public = made.public_bytes(serialization.Encoding.PEM)
    replace_file(path, secret + public, shown=str(path))
    return made
