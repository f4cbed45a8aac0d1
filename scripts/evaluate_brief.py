"""What `brief WORDS` lists: how many notes, and how many of them are on the topic.

    python scripts/evaluate.py brief NOTES QUERIES.csv

NOTES as for `known`. QUERIES.csv has the columns query and right: ids of all notes on the topic,
decided by reading. Every note that shares a word is what was once listed.
"""

from __future__ import annotations

from pathlib import Path
from statistics import mean
from typing import TYPE_CHECKING

from evaluate_known import opened, read_queries

from kb.reports.brief import NEAR_SHARE

if TYPE_CHECKING:
    import argparse

SHARES = (0.0, 0.3, 0.4, 0.6, 0.7)
"""Other shares of the best note's weight, for comparison."""


def evaluate(notes: Path, queries: Path) -> None:
    """Print a line for each share of the best note's weight, the one in use first."""
    asked = read_queries(queries)
    with opened(notes) as (search, _):
        answers = [search(one.query) for one in asked]
    print(f"{len(asked)} topics with {mean(len(one.right) for one in asked):.1f} notes each")
    print(f"that share a word: {mean(answer.total_count for answer in answers):.1f} notes")
    for share in (NEAR_SHARE, *SHARES):
        listed = [
            {str(hit.note) for hit in answer.hits if hit.weight >= share * answer.hits[0].weight}
            for answer in answers
        ]
        right = [len(ids & one.right) for ids, one in zip(listed, asked, strict=True)]
        count = sum(map(len, listed))
        print(
            f"from {share:.0%} of the best weight: {count / len(asked):.1f} listed, "
            f"{sum(right) / count:.0%} of them right, "
            f"{sum(right) / sum(len(one.right) for one in asked):.0%} of the right ones listed"
        )


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand `brief` to scripts/evaluate.py."""
    parser = commands.add_parser("brief", help="notes that a brief of a topic lists")
    parser.add_argument("notes", type=Path, metavar="NOTES")
    parser.add_argument("queries", type=Path, metavar="QUERIES.csv")
    parser.set_defaults(run=lambda given: evaluate(given.notes, given.queries))
