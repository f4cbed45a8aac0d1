"""Fetch the CommonMark conformance examples (spec 0.31.2) for the tests, into .cache/.

They are carried by the source distribution of markdown-it-py and by no wheel; fetched once.
"""

from __future__ import annotations

import subprocess
import sys
import tarfile
import tempfile
from hashlib import sha256
from pathlib import Path

PACKAGE, VERSION = "markdown-it-py", "4.3.0"
MEMBER = f"markdown_it_py-{VERSION}/tests/test_cmark_spec/commonmark.json"
SHA256 = "d431b29d97b6f73e69d547109cf5081578fac931e72afe95639ebe766c1b2a20"
TARGET = Path(__file__).resolve().parent.parent / ".cache" / "commonmark-0.31.2.json"


def main() -> int:
    """Fetch the file unless it is there and whole; exit status 1 with one line on failure."""
    if TARGET.is_file() and sha256(TARGET.read_bytes()).hexdigest() == SHA256:
        return 0
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
        command += ["--disable-pip-version-check", "--no-binary", PACKAGE, "--dest", folder]
        done = subprocess.run([*command, f"{PACKAGE}=={VERSION}"], check=False)
        archives = sorted(Path(folder).glob("*.tar.gz"))
        if done.returncode or not archives:
            print("the CommonMark examples could not be fetched", file=sys.stderr)
            return 1
        with tarfile.open(archives[0]) as archive:
            member = archive.extractfile(MEMBER)
            raw = member.read() if member else b""
    if sha256(raw).hexdigest() != SHA256:
        print("the CommonMark examples are not those expected", file=sys.stderr)
        return 1
    TARGET.parent.mkdir(exist_ok=True)
    TARGET.write_bytes(raw)
    return 0


if __name__ == "__main__":
    sys.exit(main())
