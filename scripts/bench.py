"""Measure how fast missbook is, as ratios within one run, since machines differ.

python scripts/bench.py search [--notes 6000] [--base DIR]
python scripts/bench.py reports [--notes 6000] [--answers 20000] [--base DIR]
python scripts/bench.py graph speed|links|large|near DIR
python scripts/bench.py carry [--notes 2000] [--slower 4]
python scripts/bench.py years [--sizes 3] [--runs 3] [--log]
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import bench_carry
import bench_graph
import bench_reports
import bench_search
import bench_years


def main() -> None:
    """Run the benchmark named on the command line."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    commands = parser.add_subparsers(required=True)
    for module in (bench_search, bench_reports, bench_graph, bench_carry, bench_years):
        module.add_to(commands)
    given = parser.parse_args()
    given.run(given)


if __name__ == "__main__":
    main()
