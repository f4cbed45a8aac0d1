"""`log table`: shown before it is written, remembered, never doubled, and taken back whole."""

from __future__ import annotations

import errno
import io
import json
import os
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from kb.cli import main

if TYPE_CHECKING:
    from collections.abc import Callable

    from click.testing import Result

TABLE = """\
Answered;Outcome;Nummer;Comment
12/02/2027;wrong;7;gout, not pseudogout
12/02/2027;right;8;
31/02/2027;right;9;
"""
NAMED = ("--map", "item=Nummer")


@pytest.fixture
def run(base: Callable[..., Path], monkeypatch: pytest.MonkeyPatch) -> Callable[..., Result]:
    """Run a `log` command on a small base that holds one table, bank.csv."""
    root = base({"bank.csv": TABLE})
    monkeypatch.chdir(root)

    def call(*arguments: str) -> Result:
        return CliRunner().invoke(main, ["log", *arguments, "--as-of", "2027-02-14"])

    return call


def answers(root: Path = Path("log/attempts-test.csv")) -> list[str]:
    """The lines of the log below its header."""
    return root.read_text(encoding="utf-8").splitlines()[1:] if root.exists() else []


def test_a_dry_run_shows_and_writes_nothing(run: Callable[..., Result]) -> None:
    """What would be added and what would be left, with the line and the reason."""
    before = Path("study.yaml").read_bytes()
    result = run("table", "bank.csv", "--source", "north", *NAMED, "--dry-run", "--json")
    content = json.loads(result.stdout)
    assert content["import"] == {
        "added_count": 2,
        "changed_count": 0,
        "known_count": 0,
        "left_count": 1,
    }
    assert [row["question"] for row in content["added"]] == ["north:7", "north:8"]
    assert [(row["line"], row["code"]) for row in content["problems"]] == [(4, "bad-date")]
    assert answers() == []
    assert Path("study.yaml").read_bytes() == before


def test_a_table_taken_in_twice_adds_nothing(run: Callable[..., Result]) -> None:
    """The second time the columns are known, too."""
    assert run("table", "bank.csv", "--source", "north", *NAMED).exit_code == 0
    first = answers()
    second = run("table", "bank.csv", "--source", "north")
    assert second.exit_code == 0
    assert "2 answers there already" in second.stdout
    assert answers() == first
    assert len(first) == 2


def test_the_columns_are_remembered_and_all_else_in_the_file_stays(
    run: Callable[..., Result],
) -> None:
    """study.yaml keeps its comments and its order."""
    path = Path("study.yaml")
    path.write_text("# mine\n" + path.read_text(encoding="utf-8") + "# last\n", encoding="utf-8")
    before = path.read_text(encoding="utf-8")
    run("table", "bank.csv", "--source", "north", *NAMED)
    after = path.read_text(encoding="utf-8")
    assert after.startswith(before)
    assert after.removeprefix(before) == (
        "tables:\n  north:\n    date: Answered\n    outcome: Outcome\n    remark: Comment\n"
        "    item: Nummer\n"
    )


def test_rows_not_understood_are_kept_beside_the_table(run: Callable[..., Result]) -> None:
    """With their header, so that the mended file can be taken in as it is."""
    result = run("table", "bank.csv", "--source", "north", *NAMED)
    assert "bank.csv:4: '31/02/2027' is not a date; left out" in result.stderr
    kept = Path("bank-not-understood.csv")
    assert kept.read_bytes() == b"Answered;Outcome;Nummer;Comment\r\n31/02/2027;right;9;\r\n"
    kept.write_bytes(kept.read_bytes().replace(b"31/02", b"13/02"))
    assert "1 answer added" in run("table", str(kept), "--source", "north").stdout


def test_a_mended_row_replaces_its_answer_and_undo_brings_it_back(
    run: Callable[..., Result],
) -> None:
    """Nothing is erased: the old line is voided with the import, and counts again without it."""
    run("table", "bank.csv", "--source", "north", *NAMED)
    Path("bank.csv").write_text(TABLE.replace("right;8", "wrong;8"), encoding="utf-8")
    dry = json.loads(run("table", "bank.csv", "--source", "north", "--dry-run", "--json").stdout)
    assert dry["changed"] == [
        {"line": 3, "question": "north:8", "was": "right", "becomes": "wrong"}
    ]
    changed = run("table", "bank.csv", "--source", "north")
    assert "1 of them replace what the log had" in changed.stderr
    assert json.loads(run("list", "--json").stdout)["batches"][-1]["answer_count"] == 1
    assert run("undo", "--last").exit_code == 0
    rows = json.loads(run("list", "--json").stdout)["batches"]
    assert [(row["answer_count"], row["wrong_count"]) for row in rows] == [(2, 1)]


def test_what_was_taken_back_can_be_taken_in_again(run: Callable[..., Result]) -> None:
    """Even on the same day, with the same clock."""
    for _ in range(2):
        run("table", "bank.csv", "--source", "north", *NAMED)
        rows = json.loads(run("list", "--json").stdout)["batches"]
        assert [row["answer_count"] for row in rows] == [2]
        run("undo", "--last")
    assert json.loads(run("list", "--json").stdout)["batches"] == []


def test_without_a_person_what_is_not_known_is_one_line(run: Callable[..., Result]) -> None:
    """It names what is missing and the columns there are."""
    result = run("table", "bank.csv", "--source", "north")
    assert result.exit_code == 2
    assert result.stderr.startswith("not known: which column holds the question's number")
    assert "Nummer" in result.stderr
    result = run("table", "bank.csv", *NAMED)
    assert result.exit_code == 2
    assert result.stderr.startswith("which source are these questions from?")


def test_a_table_of_many_sources_names_them_itself(run: Callable[..., Result]) -> None:
    """Whole references need no source."""
    Path("mixed.csv").write_text(
        "reference,result,date\nnorth:1,right,2027-02-01\nharbour:2,wrong,2027-02-01\n",
        encoding="utf-8",
    )
    assert "2 answers added" in run("table", "mixed.csv").stdout
    assert "  all:\n" in Path("study.yaml").read_text(encoding="utf-8")


def test_a_workbook_is_taken_like_a_table(run: Callable[..., Result]) -> None:
    """Its sheet is named, and a second time adds nothing."""
    import openpyxl

    book = openpyxl.Workbook()
    page = book.active
    assert page is not None
    page.title = "Results"
    for row in (["item", "date", "correct"], [7, "2027-02-01", True], [8, "2027-02-01", False]):
        page.append(row)
    raw = io.BytesIO()
    book.save(raw)
    Path("bank.xlsx").write_bytes(raw.getvalue())
    first = run("table", "bank.xlsx", "--source", "north")
    assert "sheet 'Results'" in first.stderr
    assert "2 answers added" in first.stdout
    assert "nothing new" in run("table", "bank.xlsx", "--source", "north").stdout


def test_a_damaged_table_ends_in_one_line(run: Callable[..., Result]) -> None:
    """Status 2, the file first, and the log untouched."""
    Path("bad.xlsx").write_bytes(b"PK\x03\x04 damaged")
    result = run("table", "bad.xlsx", "--source", "north")
    assert result.exit_code == 2
    assert result.stderr.startswith("bad.xlsx: this workbook cannot be read\n  hint: ")
    assert run("table", "none.csv", "--source", "north").stderr.startswith("none.csv: ")
    assert answers() == []


def test_a_long_table_shows_how_far_it_is(
    run: Callable[..., Result], monkeypatch: pytest.MonkeyPatch
) -> None:
    """From five hundred rows on, a person at the terminal sees a bar on standard error."""
    monkeypatch.setenv("FORCE_COLOR", "1")
    monkeypatch.setattr(
        "kb.cli.progress_bar.sys", SimpleNamespace(stderr=SimpleNamespace(isatty=lambda: True))
    )
    rows = "".join(f"{n},right,2027-02-01\n" for n in range(1, 1102))
    Path("long.csv").write_text(f"item,result,date\n{rows}", encoding="utf-8")
    result = run("table", "long.csv", "--source", "north")
    assert "Reading rows" in result.stderr
    assert "1,101 answers added" in result.stdout
    assert "north has only 300 questions, yet 1101 and 800 others were logged" in result.stderr


def test_columns_are_asked_once_with_a_preview(
    run: Callable[..., Result], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A person sees the first rows and mends the guess; next time nobody is asked."""
    monkeypatch.setattr("kb.cli.log_table.interactive", lambda: True)
    root = Path.cwd()
    arguments = ["log", "table", "bank.csv", "--source", "north", "--as-of", "2027-02-14"]
    first = CliRunner().invoke(main, arguments, input="\nnonsense\nitem=3,remark=\n\n")
    assert first.exit_code == 0
    assert "3 Nummer" in first.stderr
    assert "7 | 8 | 9" in first.stderr
    assert "Still not known: which column holds the question's number" in first.stderr
    assert "'nonsense' is not field=column" in first.stderr
    assert "2 answers added" in first.stdout
    assert "gout" not in "".join(answers(root / "log/attempts-test.csv"))
    second = CliRunner().invoke(main, arguments, input="")
    assert second.exit_code == 0
    assert "nothing new" in second.stdout


def test_settings_that_are_not_yaml_are_not_touched(run: Callable[..., Result]) -> None:
    """The line that is wrong is named, and nothing is logged."""
    Path("study.yaml").write_text("timezone: [\n", encoding="utf-8")
    result = run("table", "bank.csv", "--source", "north", *NAMED)
    assert result.exit_code == 2
    assert "study.yaml:1: this is not YAML: the bracket" in result.stderr
    assert Path("study.yaml").read_text(encoding="utf-8") == "timezone: [\n"
    assert answers() == []


def test_a_disk_that_refuses_is_one_line(
    run: Callable[..., Result], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No traceback, whatever call it is that fails."""

    def fail(*_: object, **__: object) -> None:
        raise OSError(errno.EIO, os.strerror(errno.EIO), "bank.csv")

    monkeypatch.setattr("kb.cli.log_table.TableRows", fail)
    result = run("table", "bank.csv", "--source", "north", *NAMED)
    assert result.exit_code == 2
    assert result.stderr == f"bank.csv: {os.strerror(errno.EIO).lower()}\n"
