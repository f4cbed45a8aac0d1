"""Yesterday's work is logged under yesterday, by every way of logging; the base is named."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from click.testing import Result

    Run = Callable[..., Result]

WAYS = {
    "block": ["log", "block", "north", "101-103"],
    "one": ["log", "one", "north:101", "x"],
    "sheet": ["log", "sheet", "sheet.txt"],
    "table": ["log", "table", "table.csv", "--source", "north"],
    "answers": ["sitting", "paper-9", "--answers", "paper.csv"],
    "score": ["sitting", "paper-9", "--score", "all=142/200"],
}
"""Every command that logs answers or scores."""
FILES = {
    "sheet.txt": "north\n101-103\n",
    "table.csv": "item,outcome\n101,right\n102,wrong\n",
    "paper.csv": "item,chosen,key\n1,A,B\n2,C,C\n",
}
YESTERDAY = "2027-02-13"


@pytest.fixture
def run(beside: Callable[..., Run], tmp_path: Path) -> Run:
    """Run missbook on 14 Feb 2027, beside the files that some ways read."""
    start = beside()
    for name, text in FILES.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    return start


def logged_days(tmp_path: Path) -> set[str]:
    """The days of all answers and scores in the log."""
    logs = [
        path for path in tmp_path.rglob("log/*.csv") if path.name.startswith(("attempts", "scores"))
    ]
    lines = [line for path in logs for line in path.read_text(encoding="utf-8").splitlines()[1:]]
    return {line.split(",")[1][:10] for line in lines}


@pytest.mark.parametrize("way", WAYS)
def test_the_day_of_the_work_is_given(run: Run, tmp_path: Path, way: str) -> None:
    """Whatever is logged with --day is of that day alone."""
    result = run(*WAYS[way], "--day", YESTERDAY)
    assert result.exit_code == 0, result.output
    assert logged_days(tmp_path) == {YESTERDAY}


@pytest.mark.parametrize("way", WAYS)
def test_a_day_to_come_is_refused(run: Run, tmp_path: Path, way: str) -> None:
    """Nothing is logged."""
    result = run(*WAYS[way], "--day", "2027-02-15")
    assert result.exit_code == 2
    assert result.stderr == ("--day: 2027-02-15 is in the future\n  hint: today is 2027-02-14\n")
    assert not list(tmp_path.rglob("log/*.csv"))


def test_the_same_block_of_yesterday_and_today_is_two(run: Run, tmp_path: Path) -> None:
    """Yesterday's block is no second logging of today's."""
    run("log", "block", "north", "1-3")
    assert "3 logged: 3 right" in run("log", "block", "north", "1-3", "--day", YESTERDAY).stdout
    assert "nothing new" in run("log", "block", "north", "1-3", "--day", YESTERDAY).stdout
    assert logged_days(tmp_path) == {YESTERDAY, "2027-02-14"}


def test_the_base_is_named_where_it_is_another(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """MISSBOOK_BASE or --base leads elsewhere: what was changed is named; looking names nothing."""
    base = next(path.parent for path in tmp_path.rglob("exam.yaml"))
    assert f"In the base {base.resolve()}\n" in run("log", "one", "north:1").stderr
    assert "In the base" not in run("queue").stderr
    monkeypatch.chdir(base)
    assert "In the base" not in run("log", "one", "north:2").stderr
    other = tmp_path / "other"
    other.mkdir()
    (other / "exam.yaml").write_bytes((base / "exam.yaml").read_bytes())
    named = run("log", "one", "north:3", "--base", str(other))
    assert f"In the base {other.resolve()}\n" in named.stderr
