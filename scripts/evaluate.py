"""Measure missbook's models on files of answers, with the code that the product runs.

    python scripts/evaluate.py next FILE --out P.csv
    python scripts/evaluate.py retry FILE --out P.csv
    python scripts/evaluate.py forecast FILE --block 100 --out F.csv
    python scripts/evaluate.py doctor FILE --blueprint B.csv --out F.csv
    python scripts/evaluate.py tracing FILE --out P.csv
    python scripts/evaluate.py search DIR --out RUN
    python scripts/evaluate.py known NOTES QUERIES.csv [--carried]
    python scripts/evaluate.py brief NOTES QUERIES.csv
    python scripts/evaluate.py suggest DIR [DIR ...] [--base BASE]

Learners are evaluated one by one; nothing is shared between them.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent))

import evaluate_answers
import evaluate_brief
import evaluate_known
import evaluate_papers
import evaluate_search
import evaluate_suggest
import evaluate_tracing


def main() -> None:
    """Read the command line and run one subcommand."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    commands = parser.add_subparsers(required=True)
    for module in (
        evaluate_answers,
        evaluate_papers,
        evaluate_search,
        evaluate_brief,
        evaluate_known,
        evaluate_suggest,
        evaluate_tracing,
    ):
        module.add_to(commands)
    given = parser.parse_args()
    given.run(given)


if __name__ == "__main__":
    main()
