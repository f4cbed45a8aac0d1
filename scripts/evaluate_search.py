"""Rank a public test collection with missbook's index, and measure the ranking.

    python scripts/evaluate.py search DIR --out RUN

DIR holds docs.jsonl (id, title, text), queries.jsonl (id, text) and, to measure the ranking,
qrels.tsv (query id, document id, relevance). RUN is a standard run file: query id, Q0, document
id, rank, weight, tag. Measures are those of trec_eval, computed by a package.
"""

from __future__ import annotations

import json
import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path
from typing import TYPE_CHECKING
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from kb.core.ids import NoteId
from kb.search import Index, Page
from kb.storage.derived_store import DerivedStore

if TYPE_CHECKING:
    import argparse
    from collections.abc import Iterable

DEPTH = 1000
"""Documents ranked for each query, as trec_eval reads by default."""
TITLE_QUERIES = 200
"""Titles drawn evenly for known-item search."""
MEASURES = {"ndcg_cut_10": "nDCG@10", "map": "MAP", "P_10": "P@10", "recip_rank": "RR"}

Run = dict[str, list[tuple[str, float]]]


def read_lines(path: Path) -> list[dict[str, str]]:
    """Records of a JSON Lines file, with every value as text."""
    lines = path.read_text(encoding="utf-8").splitlines()
    return [{key: str(value) for key, value in json.loads(line).items()} for line in lines if line]


def read_relevance(path: Path) -> dict[str, dict[str, int]]:
    """Relevance by query and document; a negative grade counts as none."""
    found: dict[str, dict[str, int]] = defaultdict(dict)
    for line in path.read_text(encoding="utf-8").splitlines():
        parts = line.split()
        if len(parts) >= 3 and parts[2].lstrip("-").isdigit():
            found[parts[0]][parts[1]] = max(0, int(parts[2]))
    return dict(found)


def build(documents: Iterable[dict[str, str]], folder: Path) -> Index:
    """Index a collection, one page for each document."""
    by_path = {document["id"]: document for document in documents}

    def page(path: str) -> Page:
        document = by_path[path]
        return Page(
            id=NoteId(path),
            path=path,
            title=document.get("title", ""),
            concepts=(),
            headings=(),
            body=document.get("text", ""),
            remarks=(),
        )

    index = Index(DerivedStore(folder))
    index.sync("collection", lambda: dict.fromkeys(by_path, "1"), page)
    return index


def rank(index: Index, queries: Iterable[dict[str, str]], depth: int = DEPTH) -> Run:
    """Rank the documents for every query; passages, slow to choose, are left out."""

    def ranked(words: str) -> list[tuple[str, float]]:
        answer = index.search(words, limit=depth)
        return [(str(hit.note), hit.weight) for hit in answer.hits or answer.sharing]

    with patch("kb.search.searcher.best_passage", return_value=((), 0)):
        return {query["id"]: ranked(query["text"]) for query in queries}


def format_run(run: Run, tag: str = "missbook") -> str:
    """The rankings as a standard run file."""
    return "".join(
        f"{query} Q0 {document} {number} {weight:.6f} {tag}\n"
        for query, ranked in run.items()
        for number, (document, weight) in enumerate(ranked, start=1)
    )


def measure(run: Run, relevance: dict[str, dict[str, int]]) -> dict[str, float]:
    """Means over queries with a relevant document; a query that finds nothing scores 0."""
    import pytrec_eval

    judged = {
        query: grades
        for query, grades in relevance.items()
        if query in run and any(grades.values())
    }
    evaluator = pytrec_eval.RelevanceEvaluator(judged, set(MEASURES))
    # Weights fall with rank: the package would sort equal weights by id.
    ranked = {
        query: {document: float(-number) for number, (document, _) in enumerate(run[query])}
        for query in judged
    }
    found = evaluator.evaluate(ranked)
    count = max(1, len(judged))
    return {
        name: sum(found.get(query, {}).get(name, 0.0) for query in judged) / count
        for name in MEASURES
    }


def title_queries(documents: list[dict[str, str]]) -> list[tuple[str, str]]:
    """Known-item search: (id, title) of documents drawn evenly; the title is the query."""
    titled = [(d["id"], d["title"]) for d in documents if d.get("title", "").strip()]
    step = max(1, len(titled) // TITLE_QUERIES)
    return titled[::step]


def known_item(index: Index, items: list[tuple[str, str]]) -> float:
    """Mean reciprocal rank within ten of the document whose title is the query."""
    total = 0.0
    for wanted, title in items:
        found = [str(hit.note) for hit in index.search(title, limit=10).hits]
        if wanted in found:
            total += 1 / (1 + found.index(wanted))
    return total / max(1, len(items))


def first_words(documents: list[dict[str, str]]) -> list[tuple[str, str]]:
    """Known items where there are no titles: the first eight words serve as one."""
    return [
        (d["id"], " ".join(d["text"].split()[:8]))
        for d in documents[:: max(1, len(documents) // 200)]
    ]


def without_feedback() -> None:
    """Rank by the query's own words alone, to measure what feedback adds."""
    from kb.search import searcher

    vars(searcher)["FEEDBACK_DOCS"] = sys.maxsize  # more than any collection has


def without_lending() -> None:
    """Rank without lifting notes by their neighbours, to measure what that adds."""
    from kb.search import regularisation

    vars(regularisation)["SHARE"] = 0.0


def evaluate(folder: Path, out: Path | None) -> None:
    """Index, rank, write the run, and print what can be measured."""
    documents = read_lines(folder / "docs.jsonl")
    queries = read_lines(folder / "queries.jsonl")
    with tempfile.TemporaryDirectory() as place:
        began = time.perf_counter()
        index = build(documents, Path(place))
        built = time.perf_counter()
        run = rank(index, queries)
        ranked = time.perf_counter()
        print(f"{len(documents)} documents in {built - began:.1f} s")
        print(f"{len(queries)} queries in {ranked - built:.1f} s")
        if out:
            out.write_text(format_run(run), encoding="utf-8", newline="\n")
            print(f"ranking written to {out}")
        if (folder / "qrels.tsv").is_file():
            relevance = read_relevance(folder / "qrels.tsv")
            say("all queries", run, relevance)
            halves = {"odd-numbered": 1, "even-numbered": 0}
            for name, rest in halves.items():
                half = {q: r for q, r in run.items() if q.isdigit() and int(q) % 2 == rest}
                say(name, half, relevance)
        items = title_queries(documents)
        kind = "titles"
        if not items:
            items, kind = first_words(documents), "first eight words"
        print(
            f"known item, {len(items)} {kind}: reciprocal rank at 10 {known_item(index, items):.3f}"
        )
        index.close()


def say(name: str, run: Run, relevance: dict[str, dict[str, int]]) -> None:
    """Print one line of measures."""
    if not run:
        return
    found = measure(run, relevance)
    said = ", ".join(f"{label} {found[key]:.3f}" for key, label in MEASURES.items())
    print(f"{name}: {said}")


def add_to(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add the subcommand `search` to scripts/evaluate.py."""
    parser = commands.add_parser("search", help="rank a retrieval test collection")
    parser.add_argument("folder", type=Path, metavar="DIR")
    parser.add_argument("--out", type=Path, metavar="RUN", help="write the ranking to this file")
    parser.add_argument("--plain", action="store_true", help="without relevance feedback")
    parser.add_argument("--unlifted", action="store_true", help="without likeness between notes")
    parser.set_defaults(run=_run)


def _run(given: argparse.Namespace) -> None:
    if given.plain:
        without_feedback()
    if given.unlifted:
        without_lending()
    evaluate(given.folder, given.out)
