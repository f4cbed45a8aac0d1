"""A progress bar on standard error, for work that takes seconds."""

from __future__ import annotations

import atexit
import sys
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from kb.services.open_folder import Watch

LONG = 500
"""A bar is shown from this many steps on: fewer are over before it could be read."""


def bar() -> Watch:
    """A watcher of long work that shows a bar if a person is at the terminal."""
    if not sys.stderr.isatty():
        return lambda _what, _done, _total: None
    shown: dict[str, Any] = {}

    def watch(what: str, done: int, total: int) -> None:
        if total < LONG:
            return
        if "bar" not in shown:
            from rich.console import Console
            from rich.progress import Progress

            shown["bar"] = Progress(console=Console(stderr=True), transient=True)
            shown["bar"].start()
            atexit.register(shown["bar"].stop)
        if what not in shown:
            shown[what] = shown["bar"].add_task(what, total=total)
        shown["bar"].update(shown[what], completed=done)
        if done == total:
            shown["bar"].remove_task(shown.pop(what))
            shown.pop("bar").stop()

    return watch
