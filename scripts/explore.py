"""Run the property tests with new seeds for a stated time, and print what they find.

    python scripts/explore.py [--minutes 10] [--seed N] [FILE ...]

The ordinary tests use the same examples every time, so that a failure has one cause. Here each
round has its own seed. Add anything found to the tests as an example.
"""

from __future__ import annotations

import argparse
import os
import re
import subprocess
import sys
import time
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

ROOT = Path(__file__).resolve().parent.parent
EXAMPLE = re.compile(r"^E?\s*((?:Falsifying example|Failing test case): .*?^E?\s*\))", re.M | re.S)


def property_tests() -> list[str]:
    """Every test file that states a property."""
    return [
        path.relative_to(ROOT).as_posix()
        for path in sorted((ROOT / "tests").rglob("test_*.py"))
        if "@given(" in path.read_text(encoding="utf-8")
    ]


def findings(output: str) -> list[str]:
    """Findings of one round: the tests that failed, with the failing examples."""
    failed = [line for line in output.splitlines() if line.startswith(("FAILED ", "ERROR "))]
    examples = [re.sub(r"^E ?", "", found, flags=re.M) for found in EXAMPLE.findall(output)]
    return [*failed, *dict.fromkeys(examples)]


def explore(files: Sequence[str], seed: int, seconds: float) -> tuple[int, int]:
    """(rounds, rounds that found something), with seeds from `seed` on until the time is up."""
    end = time.monotonic() + seconds
    rounds = troubled = 0
    while time.monotonic() < end:
        command = [sys.executable, "-m", "pytest", "-q", "--tb=short", *files]
        command += [f"--hypothesis-seed={seed}", "--hypothesis-profile=explore"]
        command += ["-n", str(os.cpu_count() or 1), "--dist", "loadfile", "-p", "no:cacheprovider"]
        surroundings = {**os.environ, "PYTHONUTF8": "1"}
        done = subprocess.run(
            command, cwd=ROOT, env=surroundings, capture_output=True, encoding="utf-8", check=False
        )
        rounds += 1
        if done.returncode:
            troubled += 1
            print(f"seed {seed}:")
            print("\n".join(findings(done.stdout) or [done.stdout[-2000:]]), flush=True)
        seed += 1
    return rounds, troubled


def main(arguments: Sequence[str] | None = None) -> int:
    """Explore as the command line says; status 1 if something was found."""
    parser = argparse.ArgumentParser(description="Run the property tests with new seeds.")
    parser.add_argument("files", nargs="*", help="test files (default: all that state a property)")
    parser.add_argument("--minutes", type=float, default=10, help="how long (default 10)")
    parser.add_argument("--seed", type=int, help="the first seed (default: of this second)")
    chosen = parser.parse_args(arguments)
    seed = int(time.time()) if chosen.seed is None else chosen.seed
    files = chosen.files or property_tests()
    print(f"{len(files)} files, seeds from {seed}", flush=True)
    rounds, troubled = explore(files, seed, chosen.minutes * 60)
    print(f"{rounds} rounds, {troubled} with a finding")
    return int(bool(troubled))


if __name__ == "__main__":
    sys.exit(main())
