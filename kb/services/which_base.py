"""Which base a command works on, and what this device is called in its log."""

import platform
import re
from collections.abc import Mapping
from pathlib import Path

from kb.core.errors import NoBaseError
from kb.storage.base_location import EXAM


def base_around(folder: Path) -> Path | None:
    """The nearest base that a folder is in, or is."""
    return next((f for f in (folder, *folder.parents) if (f / EXAM).is_file()), None)


def find_root(start: Path, named: str | None) -> Path:
    """The folder of the base: `named` if given, or the nearest parent with an exam.yaml.

    Raises:
        NoBaseError: There is none.
    """
    hint = "make one with: missbook new FOLDER, or name it with --base FOLDER"
    if named:
        root = Path(named).expanduser()
        if (root / EXAM).is_file():
            return root
        raise NoBaseError(f"{root} is not a base: it has no {EXAM}", hint=hint)
    if around := base_around(start):
        return around
    raise NoBaseError(f"no base here: no {EXAM} in {start} or above it", hint=hint)


def device_name(environment: Mapping[str, str]) -> str:
    """The name of this device in log file names: MISSBOOK_DEVICE, or the computer's name."""
    name = environment.get("MISSBOOK_DEVICE") or platform.node() or "device"
    return re.sub(r"[^a-z0-9]+", "-", name.casefold()).strip("-")[:40] or "device"
