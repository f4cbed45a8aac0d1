"""Tables from other programs: what is unclear is asked for, never guessed into the log."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date
    from pathlib import Path

    from click.testing import Result

HEAD = ["log", "table", "t.csv", "--source", "north"]


@pytest.fixture
def preview(
    beside: Callable[..., Callable[..., Result]], tmp_path: Path
) -> Callable[..., list[str]]:
    """The answers of a table as they would be logged, each in one text."""
    run = beside()

    def look(table: str, *more: str) -> list[str]:
        (tmp_path / "t.csv").write_text(table, encoding="utf-8")
        result = run(*HEAD, "--dry-run", *more)
        assert result.exit_code == 0, result.output
        text = " ".join(result.stdout.partition("As they would be logged")[2].split())
        return [part.strip() for part in re.split(r"(?=north:\d+ )", text)[1:]]

    return look


@pytest.mark.parametrize(
    ("table", "logged"),
    [
        ("Q;Your pick;Answer;Result\n7;C;B;wrong\n", "chose C, key B"),
        ("Q,My choice,Answer\n7,C,B\n", "chose C, key B"),
        ("Q,Choice,Answer,Result\n7,C,B,0\n", "chose C, key B"),
        ("Q,Picked,Correct\n7,C,B\n", "chose C, key B"),
        ("Q,Answer,Correct answer\n7,C,B\n", "chose C, key B"),
        ("Q,Answer,Result\n7,C,wrong\n", ""),
    ],
)
def test_the_key_is_never_taken_for_the_choice(
    preview: Callable[..., list[str]], table: str, logged: str
) -> None:
    """Where it may be either, neither is logged until someone says."""
    (line,) = preview(table)
    what = f"north:7 wrong line 2 Cardiology 14 Feb 2027 {logged}".strip()
    assert line.casefold() == what.casefold()


def test_an_unclear_column_is_named(
    beside: Callable[..., Callable[..., Result]], tmp_path: Path
) -> None:
    """With the two ways to say what it is."""
    (tmp_path / "t.csv").write_text("Q,Answer,Result\n7,C,wrong\n", encoding="utf-8")
    run = beside()
    told = run(*HEAD, "--dry-run").stderr
    assert "'Answer' is left out: it may be your option or the key." in told
    assert "--map key=Answer" in told
    assert "Key C" in run(*HEAD, "--dry-run", "--map", "key=Answer").stdout


@pytest.mark.parametrize(
    ("head", "cell", "outcome"),
    [
        ("Wrong", "1", "wrong"),
        ("Wrong", "0", "right"),
        ("Wrong?", "yes", "wrong"),
        ("Incorrect", "No", "right"),
        ("Is wrong", "TRUE", "wrong"),
        ("Missed", "x", "wrong"),
        ("Wrong", "wrong", "wrong"),
        ("Wrong", "right", "right"),
        ("Correct", "1", "right"),
        ("Correct", "0", "wrong"),
        ("Correct?", "yes", "right"),
        ("Correct", "No", "wrong"),
        ("Is correct", "false", "wrong"),
    ],
)
def test_yes_means_what_the_column_is_named_for(
    preview: Callable[..., list[str]], head: str, cell: str, outcome: str
) -> None:
    """A 1 under `Wrong` is a wrong answer, under `Correct` a right one."""
    (line,) = preview(f"Q,{head}\n7,{cell}\n")
    assert line.startswith(f"north:7 {outcome} line 2")


@pytest.mark.parametrize(
    "head", ["Date done", "Done on", "Answered on", "Submitted", "Submitted on", "Date completed"]
)
def test_days_have_many_names(preview: Callable[..., list[str]], head: str) -> None:
    """None of these columns is left unread."""
    (line,) = preview(f"Q,Result,{head}\n7,right,03/02/2027\n")
    assert "3 Feb 2027" in line


def test_a_missing_date_is_asked_for(base: Callable[..., Path], tmp_path: Path) -> None:
    """It is not taken as today: nobody here to ask, nothing logged."""
    from click.testing import CliRunner

    from kb.cli import main

    (tmp_path / "t.csv").write_text(
        "Q,Result,Date\n7,right,2026-02-03\n8,right,\n", encoding="utf-8"
    )
    words = ["log", "table", str(tmp_path / "t.csv"), "--source", "north", "--base", str(base())]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 2
    assert "1 row without a date" in result.stderr
    assert "--day" in result.stderr
    assert CliRunner().invoke(main, [*words, "--day", "2026-02-04"]).exit_code == 0


def test_an_option_beyond_the_exams_is_a_slip(
    beside: Callable[..., Callable[..., Result]], tmp_path: Path
) -> None:
    """The row is left out, with the options there are."""
    (tmp_path / "t.csv").write_text("Q,Chosen,Key\n7,C,B\n8,G,B\n", encoding="utf-8")
    told = " ".join(beside()(*HEAD, "--dry-run").stdout.split())
    assert "'G' is not an option; left out" in told
    assert "1 answer would be added" in told


def test_whole_answers_are_shown(preview: Callable[..., list[str]], today: date) -> None:
    """With everything they would hold, whatever the table's columns were called."""
    lines = preview(
        "Q,Your pick,Answer,Confidence,Secs,Why,Topic,Comments\n"
        + "7,C,B,guess,62,misread,gout,crystals\n" * 1
        + "".join(f"{number},B,B,,,,,\n" for number in range(8, 20))
    )
    assert len(lines) == 10
    assert lines[0] == (
        f"north:7 wrong line 2 Cardiology {today.day} Feb {today.year}"
        " Chose C, key B, unsure, 62 s, misread, gout, remark: crystals"
    )
