"""The measures of search are those of trec_eval, and the run file is a standard one."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent / "scripts"))

import evaluate_search

RUN = {"q": [("d1", 5.0), ("d2", 4.0), ("d3", 3.0), ("d4", 2.0), ("d5", 1.0)]}
GRADES = {"q": {"d1": 1, "d2": 0, "d3": 1, "d4": 0, "d5": 1}}


def test_measures_equal_the_hand_formula() -> None:
    """Relevance 1 0 1 0 1 in order of rank: average precision and nDCG worked by hand.

    Source: trec_eval's definitions; AP = (1 + 2/3 + 3/5) / 3, nDCG = (1 + 1/2 + 1/log2 6) /
    (1 + 1/log2 3 + 1/2).
    """
    found = evaluate_search.measure(RUN, GRADES)
    assert found["map"] == pytest.approx(0.755556, abs=1e-6)
    assert found["ndcg_cut_10"] == pytest.approx(0.885460, abs=1e-6)
    assert found["P_10"] == pytest.approx(0.3)
    assert found["recip_rank"] == 1


def test_equal_weights_keep_the_order_of_ranks() -> None:
    """A tie is judged as it was ranked, not in order of the documents' names."""
    tied = {"q": [("d2", 1.0), ("d1", 1.0)]}
    assert evaluate_search.measure(tied, {"q": {"d1": 1}})["recip_rank"] == 0.5


def test_a_query_that_finds_nothing_counts_as_nought() -> None:
    """Finding nothing must not raise the mean."""
    run = {**RUN, "empty": []}
    grades = {**GRADES, "empty": {"d1": 1}}
    assert evaluate_search.measure(run, grades)["map"] == pytest.approx(0.755556 / 2, abs=1e-6)


def test_the_run_file_has_the_standard_columns() -> None:
    """Query id, Q0, document id, rank, weight, tag; ranks count from 1."""
    lines = evaluate_search.format_run(RUN).splitlines()
    assert lines[0].split() == ["q", "Q0", "d1", "1", "5.000000", "missbook"]
    assert len(lines) == 5


def test_a_small_collection_is_ranked_and_measured(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The experiment runs from files to figures."""
    (tmp_path / "docs.jsonl").write_text(
        '{"id": "1", "title": "Potassium", "text": "tall T waves"}\n'
        '{"id": "2", "title": "Sodium", "text": "thirst and confusion"}\n',
        encoding="utf-8",
    )
    (tmp_path / "queries.jsonl").write_text('{"id": "7", "text": "thirst?"}\n', encoding="utf-8")
    (tmp_path / "qrels.tsv").write_text("7\t2\t1\n", encoding="utf-8")
    evaluate_search.evaluate(tmp_path, tmp_path / "run.txt")
    assert (tmp_path / "run.txt").read_text(encoding="utf-8").startswith("7 Q0 2 1 ")
    assert "all queries: nDCG@10 1.000, MAP 1.000" in capsys.readouterr().out
