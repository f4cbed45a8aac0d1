"""Draws: every question has its chance, none comes twice, and how mixed they are is said."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from click.testing import CliRunner
from hypothesis import given
from hypothesis import strategies as st
from plan_bases import attempts
from scipy.stats import chi2, hypergeom

from kb.cli import main
from kb.core.ids import AreaId, AttemptId, QuestionId
from kb.core.model import Attempt, Base, Drawn
from kb.core.settings import Exam, Source, Study
from kb.formats.side_logs import DRAWS
from kb.planning.held_back import bank_questions, choose_held_back, kept_unseen, protected
from kb.planning.sampling import draw, draw_by_area, pool_of, unanswered
from kb.services.session import Session

POOL = tuple(QuestionId(f"north:{n}") for n in range(1, 201))


def test_a_question_answered_at_the_moment_of_its_draw_is_answered() -> None:
    """A second before, it was not."""
    at = datetime(2027, 2, 10, 9, tzinfo=UTC)
    drawn = Drawn(at=at, draw="d", round="second", seed="s", position=1, question=POOL[0])
    exam = Exam(name="Q", date=date(2027, 5, 11), areas=())
    for second, waiting in ((0, set()), (-1, {POOL[0]})):
        answer = Attempt(
            id=AttemptId("a"),
            at=at + timedelta(seconds=second),
            question=POOL[0],
            outcome="right",
        )
        base = Base(exam=exam, study=Study(), attempts=(answer,), draws=(drawn,))
        assert unanswered(base, date(2027, 2, 14)) == waiting
        assert unanswered(base, date(2027, 2, 17)) == set()


@pytest.mark.parametrize(
    ("past", "count", "expected"),
    [
        ({"a": 10}, 10, {"b": 4, "c": 4, "d": 2}),  # shares of 20: 4 each, until 10 are given
        ({"a": 4}, 6, {"b": 2, "c": 2, "d": 2}),  # shares of 10: 2 each, in order of name
        ({"a": 90}, 10, {"b": 10}),  # a has too much, which is not taken from the others
        ({"a": 1, "b": 1, "c": 1, "d": 1, "e": 1}, 5, dict.fromkeys("abcde", 1)),
    ],
)
def test_what_an_area_lacks_is_made_up_for(
    past: dict[str, int], count: int, expected: dict[str, int]
) -> None:
    """By hand: five areas of one weight; each lacks its share of all draws less what it had."""
    names = "abcde"
    areas = {q: AreaId(names[n % 5]) for n, q in enumerate(POOL)}
    weights = {AreaId(name): 40 for name in names}
    before = {AreaId(name): n for name, n in past.items()}
    found = Counter(areas[q] for q in draw_by_area(POOL, areas, weights, count, "s", before))
    assert {str(area): n for area, n in found.items()} == expected


def test_an_area_gives_no_more_than_it_has_to_make_up() -> None:
    """By hand: of 14 draws a should have 7, but has only 2 questions; the other four come from b,
    which had its share already.
    """
    pool = [QuestionId(f"north:{n}") for n in range(12)]
    areas = {question: AreaId("a" if n < 2 else "b") for n, question in enumerate(pool)}
    weights = {AreaId("a"): 40, AreaId("b"): 40}
    found = draw_by_area(pool, areas, weights, 6, "s", {AreaId("b"): 8})
    assert Counter(areas[question] for question in found) == {"a": 2, "b": 4}


def test_every_question_has_the_same_chance() -> None:
    """Over 10,000 draws of 20 from 200 each comes a tenth of the time (chi-square at 0.1%).

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


def test_a_small_bank_is_not_all_held_back(session: Callable[..., Session]) -> None:
    """At most a fifth of the bank is held back."""
    assert len(kept_unseen(session().base)) == 60


def test_held_back_questions_are_spread_over_areas_and_stay(
    session: Callable[..., Session],
) -> None:
    """By blueprint: 80 to 50 of 130 for the two areas, so 18 and 12 of 30; the same every time."""
    study = (
        "sources:\n"
        "  - {source: north, items: 300, areas: {1-100: cardiology, 101-300: neurology}}\n"
        "held_back: 30\n"
    )
    base = session({"study.yaml": study}).base
    kept = kept_unseen(base)
    areas = bank_questions(base.study)
    assert Counter(areas[q] for q in kept) == {"cardiology": 18, "neurology": 12}
    assert kept_unseen(base) == kept


def test_held_back_questions_are_recorded_once_and_listed(base: Callable[..., Path]) -> None:
    """The first draw writes it; what is met later no longer belongs to it, and none joins."""
    root = base({"study.yaml": "sources: [{source: north, items: 60}]\nheld_back: 12\n"})
    words = ["--base", str(root), "draw", "--held-back", "--list"]
    first = CliRunner().invoke(main, [*words, "--json"])
    chosen = json.loads(first.stdout)["questions"]
    assert len(chosen) == 12
    lines = (root / "log" / "held-back-test.csv").read_text(encoding="utf-8").splitlines()
    assert sorted(line.rsplit(",", 1)[1] for line in lines[1:]) == sorted(chosen)
    item = chosen[0].partition(":")[2]
    logged = CliRunner().invoke(main, ["--base", str(root), "log", "block", "north", item])
    assert f"1 of these was held back: {chosen[0]}" in logged.stderr
    after = CliRunner().invoke(main, words).stdout
    assert chosen[0] not in after.split()
    assert after.splitlines()[-1] == "11 held back; 1 used already"


def test_all_but_a_hundred_are_released_at_three_weeks(session: Callable[..., Session]) -> None:
    """Held back whole until 18 days before, then a hundred until six days before: the last days on
    which a check may be planned still have their questions.
    """
    text = "sources: [{source: north, items: 2000}]\nheld_back: 300\n"
    base = session({"study.yaml": text}).base
    kept, exam = kept_unseen(base), base.exam.date
    counts = [len(protected(base, kept, exam - timedelta(days=n))) for n in (18, 17, 6, 5)]
    assert counts == [300, 100, 100, 0]


def answered(*rows: str) -> dict[str, str]:
    """A bank of 60 and a log."""
    study = "sources: [{source: north, items: 60}]\nheld_back: 0\n"
    return {"study.yaml": study, "log/attempts-a.csv": attempts(*rows)}


def test_a_question_that_had_its_second_turn_is_not_drawn(session: Callable[..., Session]) -> None:
    """Logged as of the second round, or repeated on a later day; met once is no repeat."""
    base = session(
        answered(
            "2027-02-01 north:1 right - second",
            "2027-02-01 north:2 right - first",
            "2027-02-03 north:2 right - -",
            "2027-02-01 north:3 right - first",
        )
    ).base
    pool = pool_of(base, date(2027, 2, 14))
    assert [q in pool for q in ("north:1", "north:2", "north:3")] == [False, False, True]
    assert len(pool_of(base, date(2027, 2, 14), again=True)) == 60


def test_a_drawn_question_is_not_lost(base: Callable[..., Path]) -> None:
    """Not answered within a week, it may be drawn again."""
    root = base({"study.yaml": "sources: [{source: north, items: 20}]\nheld_back: 0\n"})
    run(root, "draw", "20")
    late = ["--base", str(root), "draw", "20", "--as-of", "2027-02-21", "--json"]
    assert len(json.loads(CliRunner().invoke(main, late).stdout)["questions"]) == 20


def test_a_share_of_missed_questions_is_drawn(base: Callable[..., Path]) -> None:
    """By hand: 0.3 of 20 are 6 of the 10 that are due; the other 14 are none of them."""
    rows = [f"2027-02-01 north:{n} wrong - first" for n in range(1, 11)]
    root = base(answered(*rows))
    found = json.loads(run(root, "draw", "20", "--missed-share", "0.3", "--json"))
    missed = [q for q in found["questions"] if int(q.split(":")[1]) <= 10]
    assert (len(missed), found["missed_count"], len(set(found["questions"]))) == (6, 6, 20)


def test_every_area_has_its_turn_over_several_draws() -> None:
    """Ten draws of 5 by a blueprint of 80, 15 and 5: 40, 7 or 8, and 2 or 3 in all."""
    names = [AreaId("a"), AreaId("b"), AreaId("c")]
    areas = {q: names[i % 3] for i, q in enumerate(POOL)}
    weights = dict(zip(names, (80, 15, 5), strict=True))
    past: Counter[AreaId] = Counter()
    for seed in range(10):
        past.update(areas[q] for q in draw_by_area(POOL, areas, weights, 5, f"s{seed}", past))
    assert past["a"] == pytest.approx(40, abs=1)
    assert past["b"] == pytest.approx(7.5, abs=1)
    assert past["c"] == pytest.approx(2.5, abs=1)


def run(root: Path, *words: str) -> str:
    """Run a command and return what it printed."""
    result = CliRunner().invoke(main, ["--base", str(root), *words, "--as-of", "2027-02-14"])
    assert result.exit_code == 0, result.stderr
    return result.stdout


def test_no_question_comes_twice_in_a_round(base: Callable[..., Path]) -> None:
    """A second draw leaves out what the first drew; together they use up what is not reserved."""
    root = base({"study.yaml": "sources: [{source: north, items: 60}]\nheld_back: 10\n"})
    first = json.loads(run(root, "draw", "30", "--json"))["questions"]
    second = json.loads(run(root, "draw", "30", "--json"))["questions"]
    assert (len(first), len(second)) == (30, 20)
    assert not set(first) & set(second)
    again = json.loads(run(root, "draw", "30", "--allow-repeats", "--json"))["questions"]
    assert set(again) <= set(first) | set(second)
    kept = json.loads(run(root, "draw", "30", "--held-back", "--json"))["questions"]
    assert len(kept) == 10
    assert not set(kept) & (set(first) | set(second))


def test_an_exhausted_round_is_said_in_one_line(base: Callable[..., Path]) -> None:
    """When nothing is left the command says so and exits with 2."""
    root = base({"study.yaml": "sources: [{source: north, items: 5}]\nheld_back: 0\n"})
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


def test_areas_come_in_no_order() -> None:
    """Of twenty draws some begin with the first area and some with the last."""
    areas = {q: AreaId("ab"[n % 2]) for n, q in enumerate(POOL)}
    weights = {AreaId("a"): 1, AreaId("b"): 1}
    first = [areas[draw_by_area(POOL, areas, weights, 10, f"s{n}")[0]] for n in range(20)]
    assert set(first) == {"a", "b"}


@pytest.mark.parametrize(("ago", "open_"), [(0, True), (6, True), (7, False), (8, False)])
def test_a_question_drawn_stays_out_for_a_week(ago: int, open_: bool) -> None:
    """Seven days later it may be drawn again, unanswered as it is."""
    today = date(2027, 2, 14)
    at = datetime(2027, 2, 14, 9, tzinfo=UTC) - timedelta(days=ago)
    drawn = Drawn(at=at, draw="d", round="second", seed="s", position=1, question=POOL[0])
    base = Base(
        exam=Exam(name="Q", date=date(2027, 5, 11), areas=()), study=Study(), draws=(drawn,)
    )
    assert unanswered(base, today) == ({POOL[0]} if open_ else set())


def test_of_areas_with_one_claim_the_first_by_name_goes_first() -> None:
    """Whatever their order in the pool."""
    pool = tuple(QuestionId(f"q:{n}") for n in range(6))
    areas = {q: AreaId("bac"[n % 3]) for n, q in enumerate(pool)}
    weights = {AreaId(name): 5 for name in "abc"}
    found = [areas[q] for q in draw_by_area(pool, areas, weights, 4, "s")]
    assert sorted(found) == ["a", "a", "b", "c"]


def test_questions_to_hold_back_are_listed_in_order() -> None:
    """Of reference, so that every device writes the same list."""
    study = Study(sources=(Source(id="north", name="North", item_count=60),), held_back_count=12)
    chosen = choose_held_back(
        Base(exam=Exam(name="Q", date=date(2027, 5, 11), areas=()), study=study)
    )
    assert len(chosen) == 12
    assert list(chosen) == sorted(chosen)
