"""How quickly a carried file of 2,000 notes searches, in a browser slowed down four times.

    python scripts/bench.py carry [--notes 2000] [--slower 4]

Makes a big base in a temporary folder, carries all of it, opens the file and searches. A search is
timed from the keystroke until the results are laid out on the page.
"""

from __future__ import annotations

import gzip
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

import find_browser

if TYPE_CHECKING:
    import argparse

FOLDER = Path(__file__).resolve().parent
DAY = "2027-04-05"
QUERIES = (
    "edema",
    "siadh sodium",
    "potassium",
    "raised anion gap",
    "frusemide",
    "diagnoses",
    "myasthenia antibody",
    "the",
    "no such words zzzzzz",
)
LOADED = """
const [entry] = performance.getEntriesByType('navigation');
return [entry.domContentLoadedEventEnd, entry.loadEventEnd];
"""
SEARCH = """
const field = document.getElementById('words'), times = [];
for (const query of arguments[0])
  for (let end = 1; end <= query.length; end++) {
    field.value = query.slice(0, end);
    const before = performance.now();
    field.dispatchEvent(new Event('input', {bubbles: true}));
    document.body.getBoundingClientRect();
    times.push(performance.now() - before);
  }
return times;
"""


def run(note_count: int, slower: float) -> None:
    """Measure and print."""
    found = find_browser.find()
    if found is None:
        sys.exit(find_browser.MISSING)
    with tempfile.TemporaryDirectory() as name:
        base, carried = Path(name) / "base", Path(name) / "notes.html"
        python = sys.executable
        size = ["--notes", str(note_count), "--attempts", str(3 * note_count)]
        make = [python, str(FOLDER / "make_base.py"), *size, str(base)]
        subprocess.run(make, check=True, stdout=subprocess.DEVNULL)
        carry = [python, "-m", "kb", "--base", str(base), "carry", "--as-of", DAY]
        subprocess.run([*carry, "--out", str(carried)], check=True, cwd=FOLDER.parent)
        raw = carried.read_bytes()
        print(f"{len(raw) / 1e6:.1f} MB, {len(gzip.compress(raw)) / 1e6:.1f} MB when zipped")
        driver = find_browser.start(found, Path(name) / "profile")
        try:
            driver.execute_cdp_cmd("Emulation.setCPUThrottlingRate", {"rate": slower})
            screen = {"width": 390, "height": 844, "deviceScaleFactor": 2, "mobile": True}
            driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", screen)
            driver.get(carried.as_uri())
            ready, loaded = driver.execute_script(LOADED)
            first, *times = driver.execute_script(SEARCH, QUERIES)
        finally:
            driver.quit()
    print(f"slowed down {slower:g} times:")
    print(f"  opened in {ready / 1000:.1f} s, all laid out in {loaded / 1000:.1f} s")
    print(f"  first key typed {first:.0f} ms (the index is read then)")
    print(f"  {len(times)} keys typed after it: median {median(times):.0f} ms,", end=" ")
    print(f"slowest {max(times):.0f} ms")


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand `carry` to scripts/bench.py."""
    parser = commands.add_parser("carry", help="a carried file in a phone's browser")
    parser.add_argument("--notes", type=int, default=2000, help="notes of the base to make")
    parser.add_argument("--slower", type=float, default=4, help="how far the browser is slowed")
    parser.set_defaults(run=lambda given: run(given.notes, given.slower))
