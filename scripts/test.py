"""Set up and pass every test: format, lint, types, then the tests; in CI also planted faults.

With --coverage, branch coverage is measured too, which takes two thirds longer.
Other arguments go to pytest, and then only the tests run:

    python3 scripts/test.py tests/test_files.py
"""

from __future__ import annotations

import os
import subprocess
import sys
import time

import environment

COVERAGE_FLOOR = 85
FAULTS = ["scripts/mutate.py", "--count", "100", "--seed", "1", "--minutes", "9", "--floor", "90"]
"""The sample stays as it is while its modules do, so a score that falls is a test that was lost."""


def main() -> int:
    """Run every step even if one fails, and name the failed ones at the end."""
    python = environment.ready(tests=True)
    measured = "--coverage" in sys.argv
    chosen = [word for word in sys.argv[1:] if word != "--coverage"]
    # Whole files go to a core, so that what a file opens is opened once.
    cores = ["-n", str(os.cpu_count() or 1), "--dist", "loadfile"]
    coverage = ["--cov=kb", f"--cov-fail-under={COVERAGE_FLOOR}"] if measured else []
    pytest = ["pytest", "-q", *(chosen or [*cores, *coverage])]
    steps: list[tuple[str, str, list[str]]] = [
        ("test data", "seconds", ["scripts/fetch_test_data.py"]),
        ("browser", "half a minute the first time", ["scripts/find_browser.py"]),
        ("format", "seconds", ["-m", "ruff", "format", "--check", "."]),
        ("lint", "seconds", ["-m", "ruff", "check", "."]),
        ("types", "half a minute", ["-m", "mypy"]),
        ("tests", "some minutes", ["-m", *pytest]),
    ]
    if chosen:
        steps = [*steps[:2], steps[-1]]
    elif os.environ.get("CI"):
        steps.append(("planted faults", "up to ten minutes", FAULTS))
    failed: list[str] = []
    for name, length, arguments in steps:
        print(f"--- {name} ({length})", flush=True)
        begun = time.monotonic()
        # On a busy machine the threads of linear algebra wait for each other longer than they work.
        surroundings = {**os.environ, "PYTHONUTF8": "1", "OPENBLAS_NUM_THREADS": "1"}
        done = subprocess.run(
            [str(python), *arguments], cwd=environment.ROOT, env=surroundings, check=False
        )
        print(f"    {time.monotonic() - begun:.0f} s", flush=True)
        if done.returncode:
            failed.append(name)
    if failed:
        print(f"FAILED: {', '.join(failed)}")
        return 1
    print("All passed.")
    return 0


if __name__ == "__main__":
    sys.exit(main())
