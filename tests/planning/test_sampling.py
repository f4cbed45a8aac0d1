"""Draws: every question has its chance, none comes twice, and how mixed they are is said."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import chi2, hypergeom

from kb.cli import main
from kb.core.ids import AreaId, QuestionId
from kb.formats.side_logs import DRAWS
from kb.planning.reserve import bank_questions, kept_unseen
from kb.planning.sampling import draw, draw_by_area, longest_run, mixed
from kb.services.session import Session

POOL = tuple(QuestionId(f"north:{n}") for n in range(1, 201))


def test_every_question_has_the_same_chance() -> None:
    """Over 10,000 draws of 20 from 200 each comes a tenth of the time (chi-square at 0.1 %).

    Sampling without replacement makes the counts vary a little less than independent ones, so
    the statistic is divided by 1 - n/N before it is compared.
    """
    counts: Counter[QuestionId] = Counter()
    for seed in range(10_000):
        counts.update(draw(POOL, 20, f"s{seed}"))
    expected = 10_000 * 20 / 200
    statistic = sum((counts[q] - expected) ** 2 / expected for q in POOL) / (1 - 20 / 200)
    assert chi2.ppf(0.0005, 199) < statistic < chi2.ppf(0.9995, 199)


def test_marked_questions_come_as_the_hypergeometric_law_says() -> None:
    """Of 60 marked in 200, a draw of 20 holds six with probability 0.201970 (hypergeometric)."""
    assert hypergeom.pmf(6, 200, 60, 20) == pytest.approx(0.201970, abs=1e-6)
    hits = sum(
        sum(int(q.split(":")[1]) <= 60 for q in draw(POOL, 20, f"m{seed}")) == 6
        for seed in range(4000)
    )
    assert hits / 4000 == pytest.approx(0.201970, abs=0.02)


@given(st.integers(0, 250), st.text(max_size=8))
def test_a_draw_has_no_question_twice_and_repeats_with_its_seed(count: int, seed: str) -> None:
    """As many as asked or as there are, all different, and the same for the same seed."""
    found = draw(POOL, count, seed)
    assert len(found) == len(set(found)) == min(count, 200)
    assert draw(POOL, count, seed) == found


@given(st.integers(0, 220), st.lists(st.integers(0, 30), min_size=3, max_size=3))
def test_shares_by_blueprint(count: int, items: list[int]) -> None:
    """Areas get their share of the blueprint, and what one cannot give the others do."""
    names = [AreaId("a"), AreaId("b"), AreaId("c")]
    areas = {q: names[i % 3] for i, q in enumerate(POOL)}
    weights = dict(zip(names, items, strict=True))
    found = draw_by_area(POOL, areas, weights, count, "s")
    there = sum(1 for q in POOL if weights[areas[q]])
    assert len(set(found)) == len(found) == min(count, there)
    counts = Counter(areas[q] for q in found)
    if sum(items) and count <= 60:
        for name in names:
            assert abs(counts[name] - count * weights[name] / sum(items)) < 1 + 1e-9


def test_a_small_bank_is_not_all_reserve(session: Callable[..., Session]) -> None:
    """The reserve is at most a fifth of the bank."""
    assert len(kept_unseen(session().base)) == 60


def test_runs() -> None:
    """The longest run counts neighbours of one area."""
    assert longest_run("aabbbca") == 3
    assert longest_run("") == 0
    assert mixed("a" * 10, "s").usual == 10
    assert mixed("ab" * 20, "s").longest == 1 < mixed("ab" * 20, "s").usual


def test_the_reserve_is_spread_over_areas_and_stays(session: Callable[..., Session]) -> None:
    """Unseen questions are kept back from each area by its size, the same every time."""
    study = (
        "sources:\n"
        "  - {source: north, items: 300, areas: {1-100: cardiology, 101-300: neurology}}\n"
        "reserve: 30\n"
    )
    base = session({"study.yaml": study}).base
    kept = kept_unseen(base)
    areas = bank_questions(base.study)
    assert Counter(areas[q] for q in kept) == {"cardiology": 10, "neurology": 20}
    assert kept_unseen(base) == kept


def run(root: Path, *words: str) -> str:
    """Run a command and return what it printed."""
    result = CliRunner().invoke(main, ["--base", str(root), *words, "--as-of", "2027-02-14"])
    assert result.exit_code == 0, result.stderr
    return result.stdout


def test_no_question_comes_twice_in_a_round(base: Callable[..., Path]) -> None:
    """A second draw leaves out what the first drew; together they use up what is not reserved."""
    root = base({"study.yaml": "sources: [{source: north, items: 60}]\nreserve: 10\n"})
    first = json.loads(run(root, "draw", "30", "--json"))["questions"]
    second = json.loads(run(root, "draw", "30", "--json"))["questions"]
    assert (len(first), len(second)) == (30, 20)
    assert not set(first) & set(second)
    again = json.loads(run(root, "draw", "30", "--again", "--json"))["questions"]
    assert set(again) <= set(first) | set(second)
    kept = json.loads(run(root, "draw", "30", "--reserve", "--json"))["questions"]
    assert len(kept) == 10
    assert not set(kept) & (set(first) | set(second))


def test_an_exhausted_round_is_said_in_one_line(base: Callable[..., Path]) -> None:
    """When nothing is left the command says so and exits with 2."""
    root = base({"study.yaml": "sources: [{source: north, items: 5}]\nreserve: 0\n"})
    run(root, "draw", "5")
    result = CliRunner().invoke(main, ["--base", str(root), "draw", "1", "--as-of", "2027-02-14"])
    assert result.exit_code == 2
    assert result.stderr.startswith("no question is left to draw in this round\n  hint: ")


def test_a_dry_run_records_nothing(base: Callable[..., Path]) -> None:
    """A draw on trial leaves the base as it was, and hides every area."""
    root = base()
    text = run(root, "draw", "20", "--seed", "s", "--dry-run")
    assert not (root / "log").exists() or not list((root / "log").glob("draws*"))
    assert "cardiology" not in text.casefold()


def test_recorded_draws_are_read_back(session: Callable[..., Session]) -> None:
    """What is written is what is read; a damaged line is left out and said."""
    opened = session()
    line = '2027-02-14T12:00:00+00:00,d-1,second,"a,b",1,north:7\r\n'
    drawn, problems = DRAWS.parse((DRAWS.header + line).encode(), "log/draws-x.csv")
    assert DRAWS.format(*drawn) == line
    assert problems == ()
    _, problems = DRAWS.parse(
        (DRAWS.header + line + "x,y\r\n" + line[:20]).encode(), "log/draws-x.csv"
    )
    assert [str(p).split(":")[1] for p in problems] == ["3", "4"]
    assert opened.base.draws == ()
