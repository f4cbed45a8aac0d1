"""Taking answers in from the command line: blocks, sheets, single answers, voids, imports."""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from conftest import whole

from kb.cli import log_sheet, main

if TYPE_CHECKING:
    from collections.abc import Callable

    from click.testing import Result

    from kb.core.model import Attempt

DAY = "2027-02-14"


class Desk:
    """A base, and missbook at work on it."""

    def __init__(self, root: Path, outside: Path) -> None:
        self.root, self.outside = root, outside

    def run(self, *arguments: str | Path, text: str | bytes | None = None) -> Result:
        """Run a `log` command on the fixed day."""
        given = ["log", *map(str, arguments), "--base", str(self.root), "--as-of", DAY]
        return CliRunner().invoke(main, given, input=text)

    def attempts(self) -> tuple[Attempt, ...]:
        """The answers that count."""
        return whole(self.root).attempts

    def told(self) -> list[str]:
        """The same in words, in order of question."""
        found = [f"{a.day} {a.question} {a.outcome} {a.remark}".strip() for a in self.attempts()]
        return sorted(found, key=lambda line: line.split()[1])

    def sheet(self, text: str, name: str = "sheet.txt") -> Path:
        """Write a sheet outside the base."""
        path = self.outside / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode())
        return path


@pytest.fixture
def desk(base: Callable[..., Path], tmp_path: Path) -> Desk:
    """An empty base whose study.yaml names a folder of sheets."""
    root = base()
    study = (root / "study.yaml").read_text(encoding="utf-8")
    (root / "study.yaml").write_text(f"{study}sheets: ../phone\n", encoding="utf-8")
    (tmp_path / "phone").mkdir()
    return Desk(root, tmp_path / "phone")


def test_a_block_is_logged(desk: Desk) -> None:
    """All right but those named; the area comes from the source's numbering."""
    result = desk.run("block", "north", "101-105", "--wrong", "102", "--blank", "105")
    assert result.exit_code == 0
    assert "5 answers added" in result.stdout
    assert [a.outcome for a in desk.attempts()] == ["right", "wrong", "right", "right", "blank"]
    assert {a.area for a in desk.attempts()} == {"nephrology"}


def test_a_block_shares_out_its_minutes(desk: Desk) -> None:
    """62 minutes for 40 questions are 93 seconds each."""
    desk.run("block", "north", "1-40", "--took", "62")
    assert {a.seconds for a in desk.attempts()} == {93.0}


def test_a_block_twice_adds_nothing(desk: Desk) -> None:
    """The same block on the same day is known, unless --again says that it was done twice."""
    desk.run("block", "north", "101-105", "--wrong", "102")
    result = desk.run("block", "north", "101-105", "--wrong", "102")
    assert "nothing new" in result.stdout
    assert "5 answers there already" in result.stdout
    assert (
        "5 answers added"
        in desk.run("block", "north", "101-105", "--wrong", "102", "--repeat").stdout
    )


def test_a_block_twice_with_another_time_adds_nothing(desk: Desk) -> None:
    """Its time is an estimate for each answer, not part of what was answered."""
    desk.run("block", "north", "101-105", "--took", "10", "--wrong", "102")
    again = desk.run("block", "north", "101-105", "--took", "12", "--wrong", "102").stdout
    assert "5 answers there already" in again
    assert {a.seconds for a in desk.attempts()} == {120.0}


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (("north", "1-5", "--wrong", "9"), "--wrong: 9 is not in the block"),
        (("north", "1-5", "--wrong", "2", "--blank", "2"), "2 is both wrong and blank"),
        (("north", "5-1"), "'5-1' is not a number or a range"),
        (("no/rth", "1-5"), "'no/rth' is not a name for a source"),
        (("north", "1-5", "--area", "nefrology"), "no area called 'nefrology'"),
    ],
)
def test_an_off_block_is_refused(desk: Desk, arguments: tuple[str, ...], message: str) -> None:
    """One line says what is off, and nothing is logged."""
    result = desk.run("block", *arguments)
    assert result.exit_code == 2
    assert message in result.stderr
    assert desk.attempts() == ()


def test_an_item_beyond_the_source_is_said(desk: Desk) -> None:
    """It is taken, since the declared size may be what is wrong."""
    result = desk.run("block", "north", "299-302")
    assert "north has only 300 questions, yet 302 and 1 other were logged" in result.stderr
    assert len(desk.attempts()) == 4


def test_an_undeclared_source_is_taken_with_a_note(desk: Desk) -> None:
    """No source has to be declared beforehand."""
    result = desk.run("block", "west", "1-3", "--area", "cardiology")
    assert "Not declared in study.yaml yet: west." in result.stdout
    assert len(desk.attempts()) == 3


def test_open_misses_are_counted_by_area(desk: Desk) -> None:
    """After each import: how many of these, where, and how many in all."""
    desk.run("block", "north", "1-3", "--wrong", "1")
    result = desk.run("block", "north", "99-104", "--wrong", "100,101,102")
    assert (
        "3 missed (Nephrology 2, Cardiology 1). Write their notes now: missbook note --next"
        in " ".join(result.stdout.split())
    )
    assert "In all, 4 misses have no note" in result.stdout


def test_the_caution_is_said_once(desk: Desk) -> None:
    """With the first answers that are logged."""
    assert "not for patient care" in desk.run("block", "north", "1-3").stderr
    assert "not for patient care" not in desk.run("block", "north", "4-6").stderr


def test_one_answer_is_logged_as_on_a_sheet(desk: Desk) -> None:
    """Marks and remark follow the question."""
    result = desk.run("one", "north:150", "x", "C>B", "gout", "vs", "pseudogout")
    assert result.exit_code == 0
    (attempt,) = desk.attempts()
    assert (attempt.chosen, attempt.key, attempt.remark) == ("C", "B", "gout vs pseudogout")


@pytest.mark.parametrize("item", ["17a", "b12"])
def test_an_item_with_letters_is_logged(desk: Desk, item: str) -> None:
    """As its bank writes it, and also of a source that is not declared."""
    desk.run("one", f"westbook:{item}", "x", "C>B", "low", "folate")
    assert desk.told() == [f"{DAY} westbook:{item} wrong low folate"]


def test_a_whole_import_is_taken_back(desk: Desk) -> None:
    """By its id, which the import names and `imports` lists."""
    desk.run("block", "north", "1-3")
    batch_id = json.loads(desk.run("block", "north", "4-6", "--json").stdout)["import"]["batch"]
    assert batch_id in desk.run("list").stdout
    result = desk.run("undo", batch_id)
    assert "3 answers no longer count" in result.stdout
    assert [a.question for a in desk.attempts()] == ["north:1", "north:2", "north:3"]


def test_the_last_import_is_taken_back_and_may_come_again(desk: Desk) -> None:
    """Undo needs no id, and what was taken back can be logged anew."""
    desk.run("block", "north", "1-3")
    desk.run("block", "north", "4-6", "--wrong", "5")
    assert "3 answers no longer count" in desk.run("undo", "--last").stdout
    assert len(desk.attempts()) == 3
    assert "3 answers added" in desk.run("block", "north", "4-6", "--wrong", "5").stdout
    assert len(desk.attempts()) == 6


def test_one_answer_is_taken_back(desk: Desk) -> None:
    """By its own id; the others of its import stay."""
    desk.run("block", "north", "1-3")
    desk.run("undo", desk.attempts()[0].id)
    assert [a.question for a in desk.attempts()] == ["north:2", "north:3"]


def test_an_unknown_id_is_refused(desk: Desk) -> None:
    """Nothing is written for a slip."""
    desk.run("block", "north", "1-3")
    before = sorted((desk.root / "log").glob("*.csv"))[0].read_bytes()
    result = desk.run("undo", "b-0000000000")
    assert result.exit_code == 2
    assert sorted((desk.root / "log").glob("*.csv"))[0].read_bytes() == before


def test_a_sheet_is_logged(desk: Desk) -> None:
    """What is not understood is said with its line and kept beside, the rest is taken."""
    path = desk.sheet("13 Feb north\n101\n102 x C>B gout\nhm\n103 ?\n")
    result = desk.run("sheet", path)
    assert result.exit_code == 1
    assert f"{path}:4: not understood" in result.stderr
    assert desk.told() == [
        "2027-02-13 north:101 right",
        "2027-02-13 north:102 wrong gout",
        "2027-02-13 north:103 right",
    ]
    kept = desk.outside / "sheet-not-understood.txt"
    assert kept.read_text(encoding="utf-8") == "2027-02-13 source north\nhm\n"


def test_a_sheet_twice_adds_nothing(desk: Desk) -> None:
    """Whatever its name is the second time."""
    text = "13 Feb north\n101-110\n104 x\n"
    desk.run("sheet", desk.sheet(text))
    result = desk.run("sheet", desk.sheet(text, "copy.txt"))
    assert "10 answers there already" in result.stdout
    assert len(desk.attempts()) == 10


def test_a_sheet_may_come_from_standard_input(desk: Desk) -> None:
    """What is left of it is kept in the log's folder."""
    result = desk.run("sheet", "-", text="north\n101 x\nhm\n")
    assert desk.told() == [f"{DAY} north:101 wrong"]
    assert "log/set-aside-sheets-test.txt" in result.stderr
    kept = (desk.root / "log" / "set-aside-sheets-test.txt").read_text(encoding="utf-8")
    assert kept.endswith(f"{DAY} source north\nhm\n")


def test_every_wrong_answer_of_a_block_counts(desk: Desk) -> None:
    """Though the option is given once for each of them."""
    result = desk.run("block", "north", "101-105", "--wrong", "102", "--wrong", "104-105")
    assert "2 right, 3 wrong: 102, 104, 105" in " ".join(result.stdout.split())


def test_an_undated_sheet_takes_the_day_that_is_given(desk: Desk) -> None:
    """--day for a script, and a question to a person."""
    path = desk.sheet("north\n101\n")
    desk.run("sheet", path, "--day", "2027-02-01")
    assert desk.told() == ["2027-02-01 north:101 right"]


def test_a_person_is_asked_for_the_day(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """When no heading names one; the file's day is offered."""
    monkeypatch.setattr(log_sheet, "interactive", lambda: True)
    result = desk.run("sheet", desk.sheet("north\n101\n"), text="2027-02-02\n")
    assert "No heading dates 1 answer. Which day?" in result.stderr
    assert desk.told() == ["2027-02-02 north:101 right"]


def test_a_dry_run_logs_nothing(desk: Desk) -> None:
    """It shows what would be logged."""
    result = desk.run("sheet", desk.sheet("13 Feb north\n101 x C>B gout\nhm\n"), "--dry-run")
    assert "1 answer would be logged; 1 line not understood." in result.stdout
    words = " ".join(result.stdout.split())
    assert "north:101 wrong 13 Feb 2027 Chose C, key B, remark: gout" in words
    assert desk.attempts() == ()
    assert not (desk.outside / "sheet-not-understood.txt").exists()


def test_a_missing_sheet_is_said(desk: Desk) -> None:
    """In one line."""
    result = desk.run("sheet", desk.outside / "none.txt")
    assert result.exit_code == 2
    assert "there is no such file" in result.stderr


def test_every_sheet_of_the_folder_is_taken_once(desk: Desk) -> None:
    """In folders below too, and not again, even when what is derived is gone."""
    desk.sheet("13 Feb north\n101\n", "a.txt")
    desk.sheet("13 Feb north\n102 x\n", "more/b.md")
    desk.sheet("no sheet", "picture.png")
    assert "2 sheets logged" in desk.run("sheet").stdout
    for path in (desk.root / ".missbook").glob("*"):
        if path.is_file():
            path.unlink()
    result = desk.run("sheet")
    assert "No new sheet" in result.stdout
    assert result.stderr == ""
    assert desk.told() == ["2027-02-13 north:101 right", "2027-02-13 north:102 wrong"]


def test_a_grown_sheet_is_read_from_where_it_ended(desk: Desk) -> None:
    """A line not understood before is not reported again."""
    desk.sheet("13 Feb north\n101\nhm\n")
    desk.run("sheet")
    desk.sheet("13 Feb north\n101\nhm\n102 x\n")
    result = desk.run("sheet")
    assert "not understood" not in result.stderr
    assert desk.told() == ["2027-02-13 north:101 right", "2027-02-13 north:102 wrong"]


def test_a_mended_line_puts_the_answer_right(desk: Desk) -> None:
    """The old answer is voided, the new one counts, and taking it back restores the old."""
    desk.sheet("13 Feb north\n101\n102\n")
    desk.run("sheet")
    desk.sheet("13 Feb north\n101\n102 x C>B\n")
    assert "1 of them corrected" in desk.run("sheet").stderr
    assert desk.told() == ["2027-02-13 north:101 right", "2027-02-13 north:102 wrong"]
    desk.run("undo", "--last")
    assert desk.told() == ["2027-02-13 north:101 right", "2027-02-13 north:102 right"]


def test_an_undated_sheet_keeps_its_day_when_it_is_mended(desk: Desk) -> None:
    """The file's day is that of the first time."""
    path = desk.sheet("north\n101\n102\n")
    os.utime(path, (1_800_000_000, 1_800_000_000))
    desk.run("sheet")
    first = desk.told()
    desk.sheet("north\n101\n102\n102\n")
    desk.run("sheet")
    assert desk.told() == first


def test_a_synchronisers_copy_of_a_sheet_adds_nothing(desk: Desk) -> None:
    """The same answers under another name are known."""
    desk.sheet("13 Feb north\n101\n102 x\n")
    desk.run("sheet")
    desk.sheet("13 Feb north\n101\n102 x\n\n", "sheet (conflicted copy).txt")
    assert "nothing new" in desk.run("sheet").stdout
    assert len(desk.attempts()) == 2


def test_a_folder_that_is_not_there_is_said(desk: Desk) -> None:
    """Perhaps it is not synchronised yet."""
    desk.outside.rmdir()
    result = desk.run("sheet")
    assert result.exit_code == 2
    assert "there is no folder ../phone" in result.stderr


def kept_lines(desk: Desk) -> dict[str, str]:
    """What lies beside the sheets under names of kept lines."""
    return {p.name: p.read_bytes().decode() for p in desk.outside.glob("*-not-understood*")}


def test_lines_kept_before_are_never_replaced(desk: Desk) -> None:
    """Neither by a sheet that grew, nor when they were corrected meanwhile."""
    desk.sheet("13 Feb north\n101\nhm\n")
    desk.run("sheet")
    first = desk.outside / "sheet-not-understood.txt"
    first.write_text("13 Feb north\n102 x\n", encoding="utf-8")
    desk.sheet("13 Feb north\n101\nhm\n103\nhum\n")
    desk.run("sheet")
    assert kept_lines(desk) == {
        "sheet-not-understood.txt": "13 Feb north\n102 x\n",
        "sheet-not-understood-2.txt": "2027-02-13 source north\nhum\n",
    }


def test_the_same_lines_are_kept_once(desk: Desk) -> None:
    """However often the sheet is logged."""
    path = desk.sheet("13 Feb north\n101\nhm\n")
    desk.run("sheet", path)
    desk.run("sheet", path)
    assert list(kept_lines(desk)) == ["sheet-not-understood.txt"]


def test_tables_of_one_name_keep_their_lines_apart(desk: Desk) -> None:
    """As a folder holds a table as CSV and as text."""
    for suffix, item in ((".csv", 1), (".tsv", 2)):
        table = desk.sheet(f"item,outcome\n10{item},right\n11{item},hm\n", f"bank{suffix}")
        desk.run("table", table, "--source", "north", "--day", "2027-02-13")
    assert sorted(kept_lines(desk)) == ["bank-not-understood-2.csv", "bank-not-understood.csv"]


def test_a_file_of_ones_own_in_the_way_stays(desk: Desk) -> None:
    """A folder too: the next name is taken."""
    desk.sheet("my own", "sheet-not-understood.txt")
    (desk.outside / "sheet-not-understood-2.txt").mkdir()
    desk.run("sheet", desk.sheet("13 Feb north\n101\nhm\n"))
    assert (desk.outside / "sheet-not-understood.txt").read_text(encoding="utf-8") == "my own"
    names = {"sheet-not-understood-3.txt", "sheet-not-understood-2.txt", "sheet-not-understood.txt"}
    assert {path.name for path in desk.outside.glob("*-not-understood*")} == names


def test_what_was_logged_is_said_back(desk: Desk) -> None:
    """One answer with its options, a block with the numbers that were missed."""
    one = desk.run("one", "north:101", "C>B", "gout").stdout
    assert "north:101 wrong: chose C, key B." in one
    assert "1 missed. Write its note now: missbook note --next" in one
    block = desk.run("block", "north", "1-40", "--wrong", "3,17", "--blank", "8").stdout
    assert "40 logged: 37 right, 2 wrong: 3, 17, 1 not answered: 8." in block


def test_the_same_answer_twice_a_day_is_said_with_the_way_out(desk: Desk) -> None:
    """It is not logged, which a person who did it twice must know."""
    desk.run("one", "north:101", "x")
    again = desk.run("one", "north:101", "x").stdout
    assert "1 answer there already (101), not logged again: --repeat logs" in again
    assert len(desk.attempts()) == 1
    desk.run("one", "north:101", "x", "--repeat")
    assert len(desk.attempts()) == 2


PATIENT = "Mr Smith, DOB 03/04/1956, hosp no 123456"


def test_a_remark_that_names_a_patient_is_not_logged(desk: Desk) -> None:
    """The log is never erased; one's word that nobody is named lets it in."""
    refused = desk.run("one", "north:101", "x", PATIENT)
    assert refused.exit_code == 2
    assert "the remark contains what looks like a name" in refused.stderr
    assert "--no-patient" in refused.stderr
    assert desk.attempts() == ()
    assert desk.run("one", "north:101", "x", PATIENT, "--no-patient").exit_code == 0
    assert len(desk.attempts()) == 1


def test_such_a_line_of_a_sheet_is_kept_aside(desk: Desk) -> None:
    """With the reason; the other lines are logged."""
    path = desk.sheet(f"13 Feb north\n101 x {PATIENT}\n102\n")
    assert "101: the remark contains what looks like" in desk.run("sheet", path).stderr
    assert desk.told() == ["2027-02-13 north:102 right"]
    assert PATIENT in kept_lines(desk)["sheet-not-understood.txt"]


def test_such_a_row_of_a_table_is_kept_aside(desk: Desk) -> None:
    """Also when another field than the remark names somebody."""
    rows = f'101,wrong,,"{PATIENT}"\n102,wrong,NHS 943 476 5870,\n103,right,,fine\n'
    table = desk.sheet(f"item,outcome,topic,remark\n{rows}", "bank.csv")
    result = desk.run("table", table, "--source", "north", "--day", "2027-02-13")
    assert "the concept contains what looks like an NHS number" in result.stderr
    assert desk.told() == ["2027-02-13 north:103 right fine"]


@pytest.mark.parametrize("item", ["1041n", "1041r", "1041y"])
def test_a_number_run_together_with_a_code_is_asked_about(desk: Desk, item: str) -> None:
    """It may be an item of that name, or the answer to one; nothing is logged."""
    result = desk.run("one", f"north:{item}")
    assert result.exit_code == 2
    assert f"write north:{item[:-1]} {item[-1]}, or north:{item} right" in result.stderr
    assert desk.run("one", f"north:{item}", "right").exit_code == 0
