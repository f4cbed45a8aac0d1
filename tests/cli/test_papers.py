"""Papers are recorded and shown, two diagnoses compared, a group's paper judged, from one line."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest
from conftest import DEMO_DAY

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from click.testing import Result


@pytest.fixture
def run(beside: Callable[..., Callable[..., Result]]) -> Callable[..., Result]:
    """Run missbook on a small base on 5 April 2027."""
    note = "---\ntitle: {0}\narea: cardiology\nconcepts: [{0}]\n---\nAbout {0}.\n"
    files = {f"cardiology/{name}.md": note.format(name) for name in ("gout", "sepsis")}
    return beside(files, on=DEMO_DAY)


PAPER = "item,chosen,key,first,seconds,certainty\n" + "".join(
    f"{n},{'A' if n % 3 else 'B'},A,{'A' if n == 3 else ''},{60 + n},{1 + n % 3}\n"
    for n in range(1, 41)
)


def test_a_paper_is_recorded_once_and_shown(run: Callable[..., Result], tmp_path: Path) -> None:
    """The second time adds nothing; the report has score, pace, change and certainty."""
    (tmp_path / "a.csv").write_text(PAPER, encoding="utf-8")
    first = run("sitting", "paper-1", "--answers", "a.csv", "--json")
    assert json.loads(first.stdout)["import"]["added_count"] == 40
    again = run("sitting", "paper-1", "--answers", "a.csv", "--json")
    assert json.loads(again.stdout)["import"]["added_count"] == 0
    shown = " ".join(run("sitting", "paper-1").stdout.split())
    assert "27 of 40, 68% (likely 57-76%)" in shown
    assert "Changed 1 answer: 0 to right, 1 from right to wrong" in shown
    assert "That lost 1 mark." in shown
    assert "When sure, you are right" in shown


def test_bare_scores_are_listed_with_their_range(run: Callable[..., Result]) -> None:
    """Scores by area stand in for answers that were not kept."""
    made = run("sitting", "mock", "--score", "cardiology=12/19", "--score", "all=142/200")
    assert made.exit_code == 0, made.stderr
    assert "2 scores of mock added" in made.stdout
    assert (
        "mock has that score already"
        in run("sitting", "mock", "--score", "cardiology=12/19").stdout
    )
    shown = run("sitting", "mock").stdout
    assert "whole paper" in shown
    assert "48-76%" in shown


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("--score", "all=1/2"), "which paper was it?"),
        (("mock", "--score", "cardiology"), "is not a score"),
        (("mock", "--score", "cardiology=9/3"), "is not a score"),
        (("mock", "--score", "cardiolgy=1/3"), "did you mean cardiology?"),
        (("mock", "--answers", "none.csv"), "none.csv: there is no such file"),
        (("paper-9",), "no paper called 'paper-9'"),
    ],
)
def test_what_cannot_be_recorded_is_one_line(
    run: Callable[..., Result], arguments: tuple[str, ...], said: str
) -> None:
    """Status 2 and a remedy."""
    result = run("sitting", *arguments)
    assert result.exit_code == 2
    assert said in result.stderr
    assert "Traceback" not in result.output


def test_two_diagnoses_are_compared_in_one_note(run: Callable[..., Result]) -> None:
    """It begins with what the notes say, answers the questions mixed up, and is found again."""
    assert run("log", "one", "north:7", "x", "C>B", "gout", "vs", "sepsis").exit_code == 0
    begun = run("compare", "gout", "sepsis", "--draft").stdout
    assert "## gout\nAbout gout." in begun
    assert "## sepsis\nAbout sepsis." in begun
    made = run("compare", "gout", "sepsis", "--text", "Aspirate first.", "--basis", "own")
    assert made.exit_code == 0, made.stderr
    assert "it answers 1 question" in made.stdout
    assert "Compared already in: Gout or sepsis?" in run("compare", "Sepsis", "gout").stdout
    assert "compared in: Gout or sepsis?" in run("mixups").stdout


def test_a_groups_paper_is_judged(run: Callable[..., Result], tmp_path: Path) -> None:
    """Facility of each item, reliability of the whole, and its length for a good one."""
    rows = ["1,1,1", "1,1,0", "1,0,0", "0,0,0"]
    (tmp_path / "m.csv").write_text("a,b,c\n" + "\n".join(rows) + "\n", encoding="utf-8")
    content = json.loads(run("items", "m.csv", "--json").stdout)
    assert [row["facility"] for row in content["items"]] == [0.75, 0.5, 0.25]
    assert (content["paper"]["kr20"], content["paper"]["needed_count"]) == (0.75, 9)


@pytest.mark.parametrize("report", ["certainty", "reasons", "mixups", "sitting"])
def test_an_empty_log_gets_a_plain_sentence(run: Callable[..., Result], report: str) -> None:
    """Nothing yet is no failure, and it says how to begin."""
    result = run(report)
    assert result.exit_code == 0, result.output
    assert len(result.stdout.splitlines()) > 2


@pytest.mark.parametrize("words", [("draw", "5", "--seed"), ("sitting",)])
def test_a_recorded_name_says_nothing_of_a_patient(
    beside: Callable[..., Callable[..., Result]], words: tuple[str, ...]
) -> None:
    """A published example of a valid identifier with ten digits; nothing is written."""
    run = beside({})
    more = () if words[0] == "draw" else ("--score", "all=10/20")
    result = run(*words, "943-476-5919", *more)
    assert result.exit_code == 2
    assert "looks like" in result.stderr
    assert "nothing written" in result.stderr


def test_all_papers_are_one_table(
    beside: Callable[..., Callable[..., Result]], tmp_path: Path
) -> None:
    """What is planned, then what is not, then those sat in order of date, scores alone among them.

    A score by area beside the whole paper's does not count twice.
    """
    sources = "".join(
        f"  - {{source: p-{n}, kind: paper, items: {items}}}\n"
        for n, items in ((1, 200), (2, 40), (3, 200))
    )
    run = beside({"study.yaml": f"timezone: Europe/London\nsources:\n{sources}"}, on=DEMO_DAY)
    (tmp_path / "a.csv").write_text(PAPER, encoding="utf-8")
    assert run("sitting", "p-2", "--answers", "a.csv", "--day", "2027-04-02").exit_code == 0
    scores = ("--score", "all=142/200", "--score", "cardiology=12/19")
    assert run("sitting", "old", *scores, "--day", "2027-03-01").exit_code == 0
    assert run("sitting", "p-1", "--score", "all=120/200", "--day", "2027-04-03").exit_code == 0
    shown = run("sitting").stdout
    rows = [line.split("  ") for line in shown.splitlines() if line[:2] in ("p-", "ol")]
    assert [row[0] for row in rows] == ["p-3", "old", "p-2", "p-1"]
    assert [row.split()[-2] for row in shown.splitlines() if row.endswith("%  -")] == [
        *("71%", "68%", "60%")
    ]
