"""Fetch into .cache/, once, files that only the tests need, out of packages of the index.

The CommonMark conformance examples (spec 0.31.2) stand in the source archive of markdown-it-py;
the accessibility engine that the browser tests run in each page stands in a wheel. Both are pinned
and checked by digest, and neither is part of missbook.
"""

from __future__ import annotations

import subprocess
import sys
import tarfile
import tempfile
import zipfile
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

CACHE = Path(__file__).resolve().parent.parent / ".cache"


@dataclass(frozen=True, slots=True, kw_only=True)
class Wanted:
    """One file of one package: where to find it, its digest, and where it goes."""

    what: str
    package: str
    version: str
    source: bool
    member: str
    digest: str
    target: str


ALL = (
    Wanted(
        what="the CommonMark examples",
        package="markdown-it-py",
        version="4.3.0",
        source=True,
        member="markdown_it_py-4.3.0/tests/test_cmark_spec/commonmark.json",
        digest="d431b29d97b6f73e69d547109cf5081578fac931e72afe95639ebe766c1b2a20",
        target="commonmark-0.31.2.json",
    ),
    Wanted(
        what="the accessibility engine",
        package="axe-playwright-python",
        version="0.1.8",
        source=False,
        member="axe_playwright_python/axe.min.js",
        digest="84494fec757e4710dc751c8d7a636e457f4532f08f85c86dc9070133fbff53bc",
        target="axe-4.12.1.js",
    ),
)


def main() -> int:
    """Fetch every file that is missing or damaged; exit status 1 with a line for each failure."""
    failures = [failure for wanted in ALL if (failure := fetch(wanted))]
    for failure in failures:
        print(failure, file=sys.stderr)
    return 1 if failures else 0


def fetch(wanted: Wanted) -> str:
    """Put one file into .cache/ unless it is there; returns what went wrong, or nothing."""
    kept = CACHE / wanted.target
    if kept.is_file() and sha256(kept.read_bytes()).hexdigest() == wanted.digest:
        return ""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
        command += ["--disable-pip-version-check", "--dest", folder]
        command += ["--no-binary" if wanted.source else "--only-binary", wanted.package]
        done = subprocess.run([*command, f"{wanted.package}=={wanted.version}"], check=False)
        archives = sorted(Path(folder).iterdir())
        if done.returncode or not archives:
            return f"{wanted.what}: could not be fetched; is there a network connection?"
        raw = _read(archives[0], wanted.member)
    if sha256(raw).hexdigest() != wanted.digest:
        return f"{wanted.what}: what came is not the file expected"
    CACHE.mkdir(exist_ok=True)
    kept.write_bytes(raw)
    return ""


def _read(archive: Path, member: str) -> bytes:
    """One file of an archive; empty when the archive has none of that name."""
    if archive.suffix == ".whl":
        with zipfile.ZipFile(archive) as wheel:
            return wheel.read(member) if member in wheel.namelist() else b""
    with tarfile.open(archive) as source:
        found = source.extractfile(member) if member in source.getnames() else None
        return found.read() if found else b""


if __name__ == "__main__":
    sys.exit(main())
