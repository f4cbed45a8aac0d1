"""Install the built wheel into an empty environment and run the demo with it, away from the source.

    python scripts/check_install.py [--python PROGRAM] [--lowest] [--tests FOLDER ...]

With --lowest every dependency is taken at the lowest version that pyproject.toml declares. With
--tests these test folders run too, against what was installed. Needs a package index.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import socket
import subprocess
import sys
import tempfile
import time
import tomllib
import urllib.error
import urllib.request
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

ROOT = Path(__file__).resolve().parent.parent
DAY = "2027-04-05"
COMMANDS = (
    "today",
    "plan",
    "forecast",
    "standing",
    "find low sodium",
    "map cardiology",
    "calendar --out {out}/plan.ics",
    "print queue --out {out}/notes.pdf",
    "carry --out {out}/notes.html",
    "chart forecast --out {out}/forecast.png",
    "brief cardiology",
)
"""One for each large library: index, graph, arithmetic, calendars, holidays, prints, charts."""


SERVE_SECONDS = 30


class CheckFailedError(Exception):
    """Raised when a step fails; the message says which."""


def _run(command: Sequence[str | Path], cwd: Path) -> str:
    surroundings = {k: v for k, v in os.environ.items() if not k.startswith("PYTHON")}
    surroundings.pop("MISSBOOK_BASE", None)
    done = subprocess.run(
        [str(part) for part in command],
        cwd=cwd,
        env={**surroundings, "PYTHONUTF8": "1", "MISSBOOK_DEVICE": "test"},
        capture_output=True,
        encoding="utf-8",
        check=False,
    )
    if done.returncode:
        tail = "\n".join((done.stdout + done.stderr).splitlines()[-15:])
        raise CheckFailedError(f"{' '.join(map(str, command))}: status {done.returncode}\n{tail}")
    return done.stdout


def lowest(project: dict[str, Any]) -> list[str]:
    """Each dependency pinned to its lowest declared version, in pip's syntax."""
    found: list[str] = []
    for wanted in project["dependencies"]:
        match = re.match(r"([\w-]+)(?:>=|==)([\w.]+)", wanted)
        if match is None:
            raise CheckFailedError(f"pyproject.toml: {wanted} declares no lowest version")
        found.append(f"{match[1]}=={match[2]}")
    return found


def _wheel(python: str, folder: Path) -> Path:
    # A copy, since a build leaves folders beside the source.
    source = folder / "source"
    shutil.copytree(ROOT / "kb", source / "kb", ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md"):
        shutil.copy2(ROOT / name, source / name)
    _run([python, "-m", "pip", "wheel", "-q", "--no-deps", "-w", str(folder), str(source)], folder)
    return next(folder.glob("missbook-*.whl"))


def check(python: str, *, low: bool, tests: Sequence[str]) -> list[str]:
    """Install and run everything; returns one line for each step done.

    Raises:
        CheckFailedError: A step failed.
    """
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    with tempfile.TemporaryDirectory(prefix="install-") as name:
        folder = Path(name)
        wheel = _wheel(python, folder)
        _run([python, "-m", "venv", folder / "venv"], folder)
        programs = folder / "venv" / ("Scripts" if os.name == "nt" else "bin")
        own = programs / ("python.exe" if os.name == "nt" else "python")
        wanted = [str(wheel), *(lowest(project) if low else [])]
        if tests:
            wanted += project["optional-dependencies"]["test"]
        _run([own, "-m", "pip", "install", "-q", *wanted], folder)
        version = _run([own, "-c", "import sys; print(sys.version.split()[0])"], folder).strip()
        lines = [f"{wheel.name} installed with Python {version}"]
        notes = folder / "notes"
        shutil.copytree(ROOT / "notes", notes, ignore=shutil.ignore_patterns(".*"))
        study = (notes / "study.yaml").read_text(encoding="utf-8")
        study = study.replace("\nrota:\n", "\nrota:\n  bank_holidays: GB-ENG\n")
        (notes / "study.yaml").write_text(study, encoding="utf-8")
        for words in COMMANDS:
            asked = words.format(out=folder.as_posix()).split()
            command = [str(programs / "missbook"), *asked, "--base", str(notes), "--as-of", DAY]
            if not _run(command, folder).strip():
                raise CheckFailedError(f"missbook {words}: printed nothing")
            lines.append(f"missbook {words.split()[0]}: runs")
        for written in ("notes.pdf", "notes.html", "forecast.png"):
            if not (folder / written).stat().st_size:
                raise CheckFailedError(f"{written} is empty")
        lines.append(_served(str(programs / "missbook"), notes))
        if tests:
            lines.append(_tested(own, folder, tests))
        return lines


def _served(program: str, notes: Path) -> str:
    """Check that the page answers, if only to refuse a visit without the key."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = [program, "serve", "--base", str(notes), "--as-of", DAY, "--port", str(port)]
    page = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        for _ in range(SERVE_SECONDS * 10):
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{port}/", timeout=10) as answer:
                    return f"missbook serve: answers {answer.status}"
            except urllib.error.HTTPError as refused:
                if refused.code >= 500:
                    raise CheckFailedError(f"missbook serve: status {refused.code}") from refused
                return f"missbook serve: answers {refused.code}"
            except OSError:
                time.sleep(0.1)
    finally:
        page.terminate()
        page.wait()
    raise CheckFailedError(f"missbook serve: no answer in {SERVE_SECONDS} s")


def _tested(python: Path, folder: Path, tests: Sequence[str]) -> str:
    """Run the tests in a folder where only the installed kb/ can be imported."""
    place = folder / "tested"
    for name in ("tests", "scripts", "notes"):
        ignored = shutil.ignore_patterns("__pycache__")
        shutil.copytree(ROOT / name, place / name, ignore=ignored)
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy2(ROOT / name, place / name)
    if (ROOT / ".cache").is_dir():
        hidden = shutil.ignore_patterns(".*")
        shutil.copytree(ROOT / ".cache", place / ".cache", ignore=hidden)
    # An old library may use what another has since deprecated.
    command = [str(python), "-m", "pytest", "-q", "-W", "ignore::DeprecationWarning", *tests]
    output = _run(command, place)
    return f"{' '.join(tests)}: {output.splitlines()[-1]}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Check as the command line says; status 1 if a step failed."""
    parser = argparse.ArgumentParser(description="Install the wheel and run the demo with it.")
    parser.add_argument("--python", default=sys.executable, help="the Python to install with")
    parser.add_argument("--lowest", action="store_true", help="lowest declared versions")
    parser.add_argument("--tests", nargs="+", default=[], metavar="FOLDER", help="tests to run")
    chosen = parser.parse_args(arguments)
    try:
        print("\n".join(check(chosen.python, low=chosen.lowest, tests=chosen.tests)))
    except CheckFailedError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
