"""`missbook chart` writes a picture, prints its words and numbers, or says why it cannot."""

from __future__ import annotations

import json
from datetime import date
from typing import TYPE_CHECKING

import pytest
from chart_bases import full

from kb.charts import chart_names

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from click.testing import Result


@pytest.fixture
def run(beside: Callable[..., Callable[..., Result]]) -> Callable[..., Result]:
    """Run `missbook chart` on a base with something to draw."""
    return beside(full(), "chart")


@pytest.mark.parametrize(
    ("file", "begins"), [("a.svg", b"<?xml"), ("a.png", b"\x89PNG"), ("a.PDF", b"%PDF")]
)
def test_the_suffix_tells_the_form(
    run: Callable[..., Result], tmp_path: Path, file: str, begins: bytes
) -> None:
    """SVG, PNG or PDF, in capitals too; what it says and where it lies is printed."""
    result = run("plan", "--out", file)
    assert result.exit_code == 0, result.stderr
    assert (tmp_path / file).read_bytes().startswith(begins)
    assert f"Written: {file}" in result.stdout
    assert "you have done" in result.stdout


@pytest.mark.parametrize("name", chart_names())
def test_without_a_file_words_and_numbers_are_printed(
    run: Callable[..., Result], name: str
) -> None:
    """Every chart can be read in a terminal, in 80 columns."""
    result = run(name)
    assert result.exit_code == 0, result.stderr
    assert all(len(line) <= 80 for line in result.stdout.splitlines())
    assert "2027" in result.stdout


def test_json_holds_the_table(run: Callable[..., Result]) -> None:
    """The numbers drawn, by key, and where the picture lies."""
    content = json.loads(run("reliability", "--json", "--out", "r.svg").stdout)
    assert (content["report"], content["file"]) == ("chart reliability", "r.svg")
    assert [row["certainty"] for row in content["certainty"]] == [1, 2, 3]
    assert json.loads(run("reliability", "--json").stdout)["file"] is None


def test_options_are_those_of_the_chart(run: Callable[..., Result]) -> None:
    """By day, two weeks back: fourteen days behind and fourteen ahead."""
    content = json.loads(run("plan", "--by", "day", "--weeks", "2", "--json").stdout)
    assert len([row for row in content["progress"] if row["done_count"] is not None]) == 14


def test_too_little_to_draw_writes_nothing(run: Callable[..., Result], tmp_path: Path) -> None:
    """A sentence, no empty picture, and no error: there is nothing to mend."""
    result = run("forecast", "--out", "f.svg", as_of=date(2027, 1, 22))
    assert result.exit_code == 0
    assert "Too little to say" in result.stdout
    assert not (tmp_path / "f.svg").exists()


@pytest.mark.parametrize(
    ("arguments", "said", "hint"),
    [
        (("plam",), "has no command 'plam'", "plan"),
        (("plan", "--width", "20"), "20 pixels wide", "280"),
        (("pace", "--sitting", "paper-9"), "no paper called 'paper-9'", "paper-1"),
        (("forecast", "--pass-mark", "61"), "a fraction from 0 to 1", "0.61"),
        (("plan", "--weeks", "x"), "'x' is not a whole number", "--help"),
    ],
)
def test_what_cannot_be_drawn_is_one_clear_line(
    run: Callable[..., Result], tmp_path: Path, arguments: tuple[str, ...], said: str, hint: str
) -> None:
    """An unknown name, suffix, width or value: one line, a hint, exit 2, and no file."""
    result = run(*arguments)
    assert result.exit_code == 2
    first, second = result.stderr.splitlines()
    assert said in first
    assert second.startswith("  hint: ")
    assert hint in second
    assert [path for path in tmp_path.iterdir() if path.name.startswith("a")] == []


def test_a_folder_that_refuses_is_named(run: Callable[..., Result], tmp_path: Path) -> None:
    """Where a file stands in the way of the folder, its name is in the message."""
    (tmp_path / "blocked").write_text("", encoding="utf-8")
    result = run("plan", "--out", "blocked/plan.svg")
    assert result.exit_code == 2
    assert "blocked" in result.stderr
    assert "Traceback" not in result.output
