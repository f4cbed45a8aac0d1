"""The project's environment in .venv: made once, and remade when pyproject.toml changes.

Uses only the standard library, since it runs before anything is installed.
"""

from __future__ import annotations

import os
import subprocess
import sys
import venv
from hashlib import sha256
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".venv"
OLDEST, NEWEST = (3, 11), (3, 14)


def python() -> Path:
    """Path of the environment's interpreter."""
    if os.name == "nt":
        return FOLDER / "Scripts" / "python.exe"
    return FOLDER / "bin" / "python"


def ready(*, tests: bool) -> Path:
    """Make the environment if it is not there yet; returns its interpreter.

    Exits with status 2 and one line if this Python is too old or too new.
    """
    if not OLDEST <= sys.version_info[:2] <= NEWEST:
        wanted = f"{OLDEST[0]}.{OLDEST[1]} to {NEWEST[0]}.{NEWEST[1]}"
        found = f"{sys.version_info[0]}.{sys.version_info[1]}"
        newer = ", on which it has not been tried yet" if sys.version_info[:2] > NEWEST else ""
        sys.exit(_fail(f"missbook needs Python {wanted}; this is {found}{newer}"))
    extra = "[test]" if tests else ""
    stamp_file = FOLDER / ("ready-tests" if tests else "ready")
    stamp = sha256((ROOT / "pyproject.toml").read_bytes() + sys.version.encode()).hexdigest()
    if stamp_file.is_file() and stamp_file.read_text(encoding="utf-8") == stamp:
        return python()
    minutes = "two to four minutes" if tests else "one to two minutes"
    print(f"Setting up in {FOLDER.name}/ (the first time only, {minutes}) ...", flush=True)
    same = FOLDER / "made-by"
    if not python().exists() or not same.is_file() or same.read_text("utf-8") != sys.version:
        venv.create(FOLDER, with_pip=True, clear=FOLDER.exists())
        same.write_text(sys.version, encoding="utf-8")
    command = [str(python()), "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    done = subprocess.run([*command, "--editable", f"{ROOT}{extra}"], check=False)
    if done.returncode:
        sys.exit(_fail("the packages could not be installed; is there a network connection?"))
    # An editable install leaves our own code uncompiled, and some machines never cache it.
    subprocess.run([str(python()), "-m", "compileall", "-q", str(ROOT / "kb")], check=False)
    stamp_file.write_text(stamp, encoding="utf-8")
    return python()


def _fail(message: str) -> int:
    print(message, file=sys.stderr)
    return 2
