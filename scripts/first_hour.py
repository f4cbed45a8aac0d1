"""Time the first hour: from nothing to the first own note in the queue, without editing a file.

python3 scripts/first_hour.py    prints each command with its seconds, and their sum
"""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import environment

COMMANDS = (
    "new my-exam --date {day} --blueprint sciences --source north=2800"
    " --rota 'day day long day day off off' --free-minutes 240 --work-minutes 60",
    "log block north 1-40 --area cardiology --wrong 3,17,22",
    "note north:3 --text 'Torsades needs magnesium first, whatever the level.'"
    " --basis 'physiology text'",
    "queue",
)
"""What a new user types; from the second on, in the folder of the new base."""
NOTE = "Torsades needs magnesium first"
MOST_COMMANDS = 5
MOST_SECONDS = 120.0


def main() -> int:
    """Run the commands in an empty folder; 1 if the note is not listed or it took too long."""
    python = environment.ready(tests=False)
    day = time.strftime("%Y-%m-%d", time.localtime(time.time() + 160 * 24 * 3600))
    total, output = 0.0, ""
    with tempfile.TemporaryDirectory() as folder:
        surroundings = {**os.environ, "MISSBOOK_CACHE": f"{folder}/cache", "PYTHONUTF8": "1"}
        surroundings["PYTHONPATH"] = str(environment.ROOT)
        surroundings.pop("MISSBOOK_BASE", None)
        here = Path(folder)
        for command in COMMANDS:
            words = [str(python), "-m", "kb", *shlex.split(command.format(day=day))]
            began = time.perf_counter()
            run = subprocess.run(
                words, cwd=here, env=surroundings, capture_output=True, text=True, check=False
            )
            seconds = time.perf_counter() - began
            total, output = total + seconds, run.stdout
            print(f"{seconds:5.2f} s  missbook {command.format(day=day)}")
            if run.returncode:
                print(run.stderr)
                return 1
            here = Path(folder) / "my-exam"
    found = NOTE in output
    outcome = "the note is in the queue" if found else "the note is not in the queue"
    print(f"{total:5.2f} s  in all, {len(COMMANDS)} commands; {outcome}")
    return 0 if found and total <= MOST_SECONDS and len(COMMANDS) <= MOST_COMMANDS else 1


if __name__ == "__main__":
    sys.exit(main())
