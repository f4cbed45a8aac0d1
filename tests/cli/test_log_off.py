"""Input of which nothing can be used: one line and where it is wrong, status 2, nothing written."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from click.testing import Result

STUDY = """\
timezone: Europe/London
sheets: ../phone
sources: [{source: north, kind: bank, items: 300}]
"""
NONSENSE = "shopping: milk\nbread\n"


@pytest.fixture
def run(beside: Callable[..., Callable[..., Result]]) -> Callable[..., Result]:
    """Run a way of logging beside a base without answers, whose sheet folder is `phone`."""
    call = beside({"study.yaml": STUDY}, "log")
    Path("phone").mkdir()
    return call


def files() -> set[str]:
    """Everything on the disk but what is derived."""
    found = (path for path in Path().rglob("*") if path.is_file())
    return {path.as_posix() for path in found if ".missbook" not in path.parts}


@pytest.mark.parametrize("more", [(), ("--dry-run",)])
def test_a_sheet_not_understood_at_all_is_refused(run: Callable[..., Result], more: tuple) -> None:
    """It says so in one line, with the first thing that is wrong; no copy of it is kept."""
    Path("s.txt").write_text(NONSENSE, encoding="utf-8")
    before = files()
    result = run("sheet", "s.txt", *more)
    assert (result.exit_code, result.stdout) == (2, "")
    first, hint = result.stderr.splitlines()
    assert first == "s.txt: none of its 2 lines was understood; nothing was logged"
    assert hint.startswith("  hint: line 1: not understood: 'shopping' is not a source")
    assert files() == before


@pytest.mark.parametrize("text", ["", "\n\r\n", "14 Feb north\n"])
def test_a_sheet_without_answers_is_refused(run: Callable[..., Result], text: str) -> None:
    """Nothing was logged, and it does not look as if something was."""
    Path("s.txt").write_bytes(text.encode())
    result = run("sheet", "s.txt")
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == "s.txt: there are no answers in it; nothing was logged\n"


def test_what_was_piped_in_is_kept(run: Callable[..., Result]) -> None:
    """It is nowhere else."""
    result = run("sheet", "-", text=NONSENSE)
    assert result.exit_code == 2
    assert "kept in log/set-aside-sheets-test.txt" in result.stderr
    kept = Path("base/log/set-aside-sheets-test.txt").read_text(encoding="utf-8")
    assert kept.endswith(NONSENSE)


def test_another_file_in_the_sheet_folder_keeps_no_sheet_back(run: Callable[..., Result]) -> None:
    """It is named, and the sheets are taken."""
    Path("phone/list.txt").write_text(NONSENSE, encoding="utf-8")
    Path("phone/week.txt").write_text("14 Feb north\n1 x\n2\n", encoding="utf-8")
    result = run("sheet")
    assert result.exit_code == 0
    assert "list.txt: none of its 2 lines was understood" in result.stderr
    assert "2 answers added" in result.stdout


def test_a_sheet_not_understood_is_looked_at_again(run: Callable[..., Result]) -> None:
    """It does not count as taken in until something of it was."""
    Path("phone/list.txt").write_text(NONSENSE, encoding="utf-8")
    before = files()
    assert [run("sheet").exit_code, run("sheet").exit_code] == [2, 2]
    assert files() == before


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("item,outcome\nfoo bar?,right\n", "its one line was not understood"),
        ("item,outcome\n1,perhaps\n2,maybe\n", "none of its 2 lines was understood"),
        ("item,outcome\n", "there are no answers in it"),
    ],
)
def test_a_table_not_understood_at_all_is_refused(
    run: Callable[..., Result], text: str, said: str
) -> None:
    """How it was read is said first; its columns are not remembered."""
    Path("t.csv").write_text(text, encoding="utf-8")
    before = files()
    result = run("table", "t.csv", "--source", "north")
    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith("Read as: UTF-8, separator comma; item = item")
    assert f"t.csv: {said}" in result.stderr
    assert files() == before
    assert "tables:" not in Path("base/study.yaml").read_text(encoding="utf-8")


@pytest.mark.parametrize("encoding", ["cp1252", "utf-16", "utf-8-sig"])
def test_a_sheet_is_read_in_the_encoding_it_has(run: Callable[..., Result], encoding: str) -> None:
    """A remark goes into the log as it was typed."""
    text = "14 Feb north\r\n1 x C>B Ménière’s, not vestibular neuritis\r\n2\r\n"
    Path("s.txt").write_bytes(text.encode(encoding))
    result = run("sheet", "s.txt")
    assert result.exit_code == 0
    log = Path("base/log/attempts-test.csv").read_text(encoding="utf-8")
    assert "Ménière’s, not vestibular neuritis" in log


@pytest.mark.parametrize(("day", "said"), [("15 Feb", True), ("13 Feb", False)])
def test_a_day_still_to_come_is_pointed_out(
    run: Callable[..., Result], day: str, said: bool
) -> None:
    """Without a year it is taken for last year's, which is more often a slip than meant."""
    Path("s.txt").write_text(f"{day} north\n1 x\n", encoding="utf-8")
    result = run("sheet", "s.txt", "--dry-run")
    assert ("The oldest of these answers is dated 2026-02-15" in result.stderr) is said


def test_a_block_in_the_wrong_order_is_said(run: Callable[..., Result]) -> None:
    """With the order that was meant."""
    result = run("block", "1-40", "north")
    assert result.exit_code == 2
    assert "write the source first: missbook log block north 1-40" in result.stderr


def test_a_file_that_is_no_workbook_is_said(run: Callable[..., Result]) -> None:
    """Rather than to be read as a table of text."""
    Path("t.xlsx").write_bytes(b"<html>please log in</html>")
    result = run("table", "t.xlsx", "--source", "north")
    assert result.exit_code == 2
    assert result.stderr.startswith("t.xlsx: this is not a workbook, or it is damaged\n")
