"""The page on this machine: the same reports, logging and notes in a browser."""

from __future__ import annotations

import os
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.cli.params import DAY, named_base, say

if TYPE_CHECKING:
    from flask import Flask

MOMENT = "the base"
LOOPBACK = "127.0.0.1"
PORT = 8017


@click.command(name="serve")
@click.option("--port", type=click.IntRange(1, 65535), default=PORT, show_default=True)
@click.option("--as-of", type=DAY, metavar="DATE", help="As things stood on that day.")
@click.option("--base", "base_folder", metavar="FOLDER", help="The base to use.")
@click.pass_context
def command(ctx: click.Context, port: int, as_of: date | None, base_folder: str | None) -> None:
    """Show the base in a browser on this machine. Ctrl-C ends it."""
    from kb.base import device_name, find_root
    from kb.web.app import create_app

    root = find_root(Path.cwd(), named_base(ctx, base_folder))
    app = create_app(root, clock=_now, device=device_name(os.environ), port=port, as_of=as_of)
    listen(app, LOOPBACK, port)


def _now() -> datetime:
    return datetime.now(UTC)


def listen(app: Flask, host: str, port: int) -> None:
    """Answer requests until Ctrl-C."""
    from waitress import create_server

    server = create_server(app, host=host, port=port, ident=None, threads=4)
    say(f"missbook is at http://{host}:{port}/ until you press Ctrl-C")
    try:
        server.run()
    except KeyboardInterrupt:
        pass
    finally:
        server.close()
        say("missbook has stopped")
