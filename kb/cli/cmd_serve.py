"""The page on this machine: the same reports, logging and notes in a browser."""

from __future__ import annotations

import os
import sys
import webbrowser
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.cli.call import Call, as_of_option, base_option, pass_call
from kb.cli.params import Whole, say, say_caution
from kb.core.errors import KBError, QueryError, why

if TYPE_CHECKING:
    from kb.web.login import Door


PORT = 8017
PASSPHRASE = "MISSBOOK_PASSPHRASE"


@click.command(name="serve")
@click.option("--port", type=Whole(1, 65535), default=PORT, show_default=True, help="Port to use.")
@click.option("--lan", is_flag=True, help="Let other devices on this network in.")
@click.option(
    "--passphrase-file",
    type=click.Path(exists=True, dir_okay=False, path_type=Path),
    help="Its first line is the passphrase. Default: ask.",
)
@click.option("--browser/--no-browser", default=True, help="Whether to open a browser.")
@as_of_option
@base_option()
@pass_call
def command(call: Call, port: int, lan: bool, passphrase_file: Path | None, browser: bool) -> None:
    """Show the base in a browser on this computer, until Ctrl-C.

    The address has a key that the browser keeps: without it no other account on this computer can
    see the page. --no-browser only prints the address.

    With --lan a phone on the same network can use it too: it asks for a passphrase (or takes it
    from --passphrase-file or MISSBOOK_PASSPHRASE) and shows the address with a QR code. What is
    sent is encrypted with a certificate that this computer makes itself. The phone's browser warns
    about it once: compare the fingerprint it shows with the one printed here.
    """
    from kb.services.page_key import opening_file, page_key
    from kb.web.app import create_app
    from kb.web.server import EVERYWHERE, LOOPBACK, make_server

    root = call.root
    if passphrase_file and not lan:
        raise QueryError("--passphrase-file is for --lan only", hint="add --lan")
    door, certificate = _door(root, passphrase_file) if lan else (None, None)
    key = page_key(root)
    app = create_app(
        root, clock=_now, device=call.device, port=port, key=key, as_of=call.as_of, lan=door
    )
    address = f"http://{LOOPBACK}:{port}/?key={key}"
    file = opening_file(root, address) if browser and _has_screen() else None
    try:
        server = make_server(app, EVERYWHERE if door else LOOPBACK, port, certificate)
    except OSError as error:
        hint = f"another missbook may be running; try --port {port + 1}"
        raise KBError(f"port {port} cannot be used: {why(error)}", hint=hint) from error
    say("missbook runs until you press Ctrl-C. This address is for you alone:")
    say(address)
    if file is not None:
        webbrowser.open(file.as_uri())
    if door is not None:
        _say_way_in(port, door)
    say_caution()
    try:
        server.run()
    except KeyboardInterrupt:
        pass
    finally:
        server.close()
        say("missbook has stopped")


def _now() -> datetime:
    return datetime.now(UTC)


def _door(root: Path, passphrase_file: Path | None) -> tuple[Door, Path]:
    from kb.services.certificate import own_certificate
    from kb.web.login import Door, Passphrase
    from kb.web.server import own_addresses, own_names

    passphrase, hosts = Passphrase.of(_words(passphrase_file)), (*own_addresses(), *own_names())
    own = own_certificate(root, hosts, _now())
    return Door(passphrase, hosts, fingerprint=own.fingerprint), own.path


def _words(passphrase_file: Path | None) -> str:
    if passphrase_file:
        try:
            lines = passphrase_file.read_text(encoding="utf-8-sig").splitlines()
        except ValueError as error:
            hint = "save the file as UTF-8"
            raise QueryError(f"{passphrase_file}: the file is not UTF-8", hint=hint) from error
        return lines[0] if lines else ""
    given = os.environ.get(PASSPHRASE)
    if given is not None:
        return given
    if not sys.stdin.isatty():
        hint = f"name a --passphrase-file, or set {PASSPHRASE}"
        raise QueryError("there is nobody to ask for the passphrase", hint=hint)
    asked: str = click.prompt(
        "Passphrase for other devices", hide_input=True, confirmation_prompt=True, err=True
    )
    return asked


def _has_screen() -> bool:
    """Whether a person is at a terminal of a machine on which a browser can open."""
    windows = sys.platform in ("win32", "darwin") or {"DISPLAY", "WAYLAND_DISPLAY"} & {*os.environ}
    return sys.stderr.isatty() and bool(windows)


def _say_way_in(port: int, door: Door) -> None:
    """How other devices get to the page."""
    if not door.hosts:
        say("this computer is on no network through which other devices could reach it")
        return
    address = f"https://{door.hosts[0]}:{port}/"
    if "utf" in (sys.stderr.encoding or "").casefold():
        import segno

        segno.make(address, error="m").terminal(out=sys.stderr, compact=True)
    say(f"other devices on this network: {address} (with the passphrase)")
    say("encrypted with a certificate made here: its browser warns once; compare the fingerprint:")
    for at in range(0, len(door.fingerprint), 48):
        say(f"  {door.fingerprint[at : at + 48].rstrip(':')}")
