"""Set missbook up and show its main job on the demo base; with arguments, run missbook with them.

python3 scripts/start.py                     the demo
python3 scripts/start.py brief cardiology    any command of missbook
"""

from __future__ import annotations

import os
import shlex
import subprocess
import sys

import environment

DEMO = environment.ROOT / "notes"
DEMO_DAY = "2027-04-05"

STEPS = (
    (
        ["queue", "--limit", "3"],
        "Which notes keep failing, worst first.",
        "missbook map NOTE shows what surrounds one of them.",
    ),
    (
        ["brief", "nephrology", "--minutes", "20"],
        "What to read in the 20 minutes before a topic.",
        "missbook brief AREA|WORDS --minutes 10 fits a shorter wait.",
    ),
    (
        ["find", "raised anion gap", "--area", "nephrology"],
        "What did I write about this?",
        "missbook find WORDS without --area looks everywhere.",
    ),
)


def main() -> int:
    """Run the demo, or missbook with the given arguments."""
    python = environment.ready(tests=False)
    if len(sys.argv) > 1:
        return run([python, "-m", "kb", *sys.argv[1:]])
    print("missbook on its demo base: an invented doctor, five weeks before an invented exam.\n")
    for arguments, purpose, following in STEPS:
        print(f"--- {purpose}\n$ missbook {shlex.join(arguments)}\n", flush=True)
        command = [python, "-m", "kb", "--base", DEMO, *arguments, "--as-of", DEMO_DAY]
        status = run(command)
        if status:
            return status
        print(f"\nTry next: {following}\n", flush=True)
    page = f"serve --base {os.path.relpath(DEMO)} --as-of {DEMO_DAY}"
    print(f"The same in your browser: python3 scripts/start.py {page}")
    print("Start your own base: python3 scripts/start.py new FOLDER")
    print("Revision notes for an exam, not for patient care: follow current local guidelines.")
    return 0


def run(command: list[object]) -> int:
    """Run one command to its end, in UTF-8 on every system."""
    surroundings = {**os.environ, "PYTHONUTF8": "1"}
    return subprocess.run([str(part) for part in command], check=False, env=surroundings).returncode


if __name__ == "__main__":
    sys.exit(main())
