"""A name that changes is changed everywhere: settings, notes, and the log by an alias."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import TYPE_CHECKING

import pytest

from kb.core.errors import FormatError, NotFoundError, QueryError
from kb.services.renaming import rename, rename_items
from kb.services.report_registry import report_names

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from click.testing import Result

    from kb.services.session import Session

EXAM = """# mine
exam: The Quill Examination
date: 2027-05-11
blueprint:
  - {area: cardio, name: Heart, items: 120}   # the heart
  - area: nephrology
    items: 80
"""
STUDY = """sources:
  - source: north      # the bank
    items: 300
    areas:
      1-150: cardio
      151-300: nephrology
  - source: paper-1
    kind: paper
    items: 2
    shares: {1: north:11-12}
plan:
  area_order: [nephrology, "cardio"]
tables:
  north: {item: No, outcome: Result}
"""
NOTE = """---
areas: [cardio]      # cardio stays here
concepts:
  - Torsades
  - long QT
questions: [north:3, North:5, paper-1:1]
own: cardio
---
# Cardio

north:3 and Torsades.
"""
HEAD = (
    "id,at,question,area,concept,outcome,first,chosen,key,certainty,seconds,reason,round,"
    "sitting,batch,voids,remark\r\n"
)


def line(number: int, question: str, area: str = "", concept: str = "", sitting: str = "") -> str:
    """One wrong answer of 1 Feb 2027."""
    return (
        f"a{number:015d},2027-02-01T09:00:{number:02d}+00:00,{question},{area},{concept},wrong,"
        f",,,,,,,{sitting},,,\r\n"
    )


FILES = {
    "exam.yaml": EXAM,
    "study.yaml": STUDY,
    "heart/qt.md": NOTE,
    "log/attempts-old.csv": HEAD
    + line(1, "north:3", "cardio", "torsades")
    + line(2, "north:5")
    + line(3, "paper-1:1", "", "", "paper-1")
    + "b000000000000001,2027-02-01T09:00:09+00:00,north:200,,,aside,,,,,,nothing,,,,,\r\n",
    "log/draws-old.csv": "at,draw,round,seed,position,question\r\n"
    "2027-02-01T09:00:00+00:00,d-1,second,s,1,north:3\r\n",
    "log/held-back-old.csv": "at,draw,round,seed,position,question\r\n"
    "2027-02-01T09:00:00+00:00,h-1,paper,blueprint,1,north:9\r\n",
    "log/scores-old.csv": "id,at,sitting,area,right,items,official\r\n"
    "s1,2027-02-01T09:00:00+00:00,paper-1,cardio,1,2,\r\n",
}


@pytest.fixture
def opened(session: Callable[..., Session]) -> Session:
    """A base in which the names stand wherever a name may."""
    return session(FILES)


def read(opened: Session, path: str) -> str:
    """A file of the base, as it is on disk."""
    return (opened.root / path).read_text(encoding="utf-8")


def test_an_area_is_renamed_everywhere(opened: Session) -> None:
    """In exam.yaml, study.yaml and notes word by word; answers and scores by the alias."""
    log = read(opened, "log/attempts-old.csv")
    done = rename(opened, "area", "Cardio", "heart", dry_run=False)
    assert set(done.files) == {"exam.yaml", "study.yaml", "heart/qt.md"}
    assert read(opened, "exam.yaml") == EXAM.replace("area: cardio", "area: heart")
    assert read(opened, "study.yaml") == STUDY.replace("1-150: cardio", "1-150: heart").replace(
        '"cardio"', "heart"
    )
    assert read(opened, "heart/qt.md") == NOTE.replace("[cardio]", "[heart]")
    assert read(opened, "log/attempts-old.csv") == log
    assert {a.area for a in opened.base.attempts if a.source == "north"} == {"heart"}
    assert [score.area for score in opened.base.scores] == ["heart"]
    assert not opened.errors


def test_a_source_is_renamed_everywhere(opened: Session) -> None:
    """As a source, in shares and tables, in notes, in draws, dismissals and sittings."""
    rename(opened, "source", "north", "northern", dry_run=False)
    rename(opened, "source", "paper-1", "mock-a", dry_run=False)
    base = opened.base
    assert [source.id for source in base.study.sources] == ["northern", "mock-a"]
    assert base.study.sources[1].shares[0].source == "northern"
    assert base.study.tables[0].source == "northern"
    assert base.notes[0].questions == ("northern:3", "northern:5", "mock-a:1")
    assert sorted(a.question for a in base.attempts) == ["mock-a:1", "northern:3", "northern:5"]
    assert {a.area for a in base.attempts if a.source == "northern"} == {"cardio"}
    assert [a.sitting for a in base.attempts if a.source == "mock-a"] == ["mock-a"]
    assert [aside.question for aside in base.dismissals] == ["northern:200"]
    assert [drawn.question for drawn in base.draws] == ["northern:3"]
    assert base.held_back == ("northern:9",)
    assert [score.sitting for score in base.scores] == ["mock-a"]


def test_a_concept_is_renamed_in_notes_and_log(opened: Session) -> None:
    """Its text is left alone."""
    rename(opened, "concept", "torsades", "Torsades de pointes", dry_run=False)
    assert opened.base.notes[0].concepts == ("Torsades de pointes", "long QT")
    assert "north:3 and Torsades." in read(opened, "heart/qt.md")
    assert "Torsades de pointes" in {a.concept for a in opened.base.attempts}


def test_a_bank_is_renumbered_at_once(opened: Session) -> None:
    """3 -> 5 and 5 -> 200 move each answer once, and an area follows its new number."""
    text = "old,new\n3,5\n5,200\n"
    done = rename_items(opened, text, "new.csv", "north", dry_run=False)
    assert done.answer_count == 2
    found = {a.question: a.area for a in opened.base.attempts if a.source == "north"}
    assert found == {"north:5": "cardio", "north:200": "nephrology"}
    assert opened.base.notes[0].questions == ("north:5", "north:200", "paper-1:1")
    assert done.told()[2] == (
        "Ranges of north and paper-1 in study.yaml (areas, shares): change them yourself."
    )


def test_an_answer_after_the_renumbering_has_the_new_number(opened: Session) -> None:
    """Only lines from before it are moved."""
    rename_items(opened, "5,7\n", "new.csv", "north", dry_run=False)
    later = (opened.now + timedelta(hours=1)).isoformat()
    path = opened.root / "log/attempts-old.csv"
    row = f"c000000000000001,{later},north:5,,,right,,,,,,,,,,,\r\n"
    path.write_bytes(path.read_bytes() + row.encode())
    opened.reload()
    questions = sorted(a.question for a in opened.whole.attempts if a.source == "north")
    assert questions == ["north:3", "north:5", "north:7"]


@pytest.mark.parametrize("kind", ["source", "items"])
def test_a_sheet_of_the_old_name_is_known_by_the_new_one(
    beside: Callable[..., Callable[..., Result]], tmp_path: Path, kind: str
) -> None:
    """Corrected after the renaming, it replaces its answer; nothing of it counts twice."""
    run = beside({**FILES, "log/attempts-old.csv": HEAD, "study.yaml": f"sheets: s\n{STUDY}"})
    sheet, moved = tmp_path / "base/s/feb.txt", tmp_path / "moved.csv"
    sheet.parent.mkdir()
    sheet.write_text("north 1 Feb\n11\n12 x\n13 x\n", encoding="utf-8")
    moved.write_text("12,112\n13,113\n", encoding="utf-8")
    run("log", "sheet")
    names = [str(moved), "--source", "north"] if kind == "items" else ["north", "northern"]
    assert run("rename", kind, *names).exit_code == 0
    sheet.write_text("north 1 Feb\n11\n12\n13 x\n", encoding="utf-8")
    done = run("log", "sheet")
    assert "1 of them corrected; 2 there already" in done.stderr
    assert "Not declared" not in done.stdout
    batches = json.loads(run("log", "list", "--json").stdout)["batches"]
    assert sum(batch["answer_count"] for batch in batches) == 3
    assert sum(batch["wrong_count"] for batch in batches) == 1


def test_an_area_of_the_log_alone_joins_one_of_the_exam(session: Callable[..., Session]) -> None:
    """An area once misspelt: each report names it until it is renamed."""
    files = {**FILES, "log/attempts-old.csv": HEAD + line(1, "east:1", "nefrology")}
    opened = session(files)
    report = opened.report("reasons")
    told = "exam.yaml does not have nefrology (1 answer)."
    assert any(told in getattr(block, "text", "") for block in report.blocks)
    rename(opened, "area", "nefrology", "nephrology", dry_run=False)
    assert [a.area for a in opened.base.attempts] == ["nephrology"]
    report = opened.report("reasons")
    assert not any(told in getattr(block, "text", "") for block in report.blocks)


def test_every_list_names_an_area_that_the_exam_does_not_have(
    beside: Callable[..., Callable[..., Result]],
) -> None:
    """Also the search and the list of misses, which read no log."""
    run = beside({**FILES, "log/attempts-old.csv": HEAD + line(1, "east:1", "nefrology")})
    calls = [[name] for name in report_names() if name not in ("find", "brief", "history", "map")]
    calls += [["find", "torsades"], ["brief", "cardio"], ["history", "qt"], ["map", "cardio"]]
    for words in (*calls, ["note"]):
        told = run(*words)
        assert "nefrology" in told.stdout + told.stderr, words


def test_an_old_name_declared_again_is_no_alias(opened: Session) -> None:
    """Whoever gives the name to something new means that."""
    rename(opened, "source", "north", "northern", dry_run=False)
    path = opened.root / "study.yaml"
    text = path.read_text(encoding="utf-8").replace("sources:\n", "sources:\n  - source: north\n")
    path.write_text(text, encoding="utf-8", newline="\n")
    opened.reload()
    assert "north:3" in {a.question for a in opened.base.attempts}


@pytest.mark.parametrize(
    ("kind", "old", "new", "error", "message"),
    [
        ("area", "cardo", "heart", NotFoundError, "nothing has the area 'cardo'"),
        ("area", "cardio", "nephrology", QueryError, "exam.yaml has both"),
        ("area", "cardio", "the heart", QueryError, "not a name for an area"),
        ("source", "north", "north", QueryError, "not another name"),
        ("source", "north", "no:rth", QueryError, "not a name for a source"),
        ("source", "north", "paper-1", QueryError, "study.yaml has both"),
        ("concept", "torsade", "x", NotFoundError, "nothing has the concept"),
    ],
)
def test_what_cannot_be_renamed_is_refused(
    opened: Session, kind: str, old: str, new: str, error: type[Exception], message: str
) -> None:
    """Nothing is written."""
    with pytest.raises(error, match=message):
        rename(opened, kind, old, new, dry_run=False)  # type: ignore[arg-type]
    assert read(opened, "exam.yaml") == EXAM
    assert not list(opened.root.glob("log/renames*"))


@pytest.mark.parametrize("text", ["", "old,new\n", "3\n", "3,4\n3,5\n", "3,5\n4,5\n", "a b,4\n"])
def test_a_file_of_numbers_that_is_wrong_is_refused(opened: Session, text: str) -> None:
    """With the line that is wrong."""
    with pytest.raises(FormatError):
        rename_items(opened, text, "new.csv", "north", dry_run=False)
    assert not list(opened.root.glob("log/renames*"))


def test_a_dry_run_writes_nothing(opened: Session) -> None:
    """It counts what it would change."""
    done = rename(opened, "area", "cardio", "heart", dry_run=True)
    assert (len(done.files), done.answer_count) == (3, 3)
    assert read(opened, "exam.yaml") == EXAM
    assert not list(opened.root.glob("log/renames*"))


@pytest.mark.parametrize("words", [["area", "cardio", "heart"], ["source", "north", "east"]])
def test_undo_brings_the_old_name_back(
    beside: Callable[..., Callable[..., Result]], tmp_path: object, words: list[str]
) -> None:
    """Files and log; undoing that gives the new name again."""
    run = beside(FILES)
    before = run("standing", "--json").stdout
    assert run("rename", *words).exit_code == 0
    renamed = run("standing", "--json").stdout
    undone = run("undo")
    assert f"Undone: {words[0]} {words[1]} renamed to {words[2]}" in undone.stdout
    assert run("standing", "--json").stdout == before
    assert run("undo").exit_code == 0
    assert run("standing", "--json").stdout == renamed


def test_a_name_that_only_a_later_note_has_can_be_changed(session: Callable[..., Session]) -> None:
    """Written on a device whose clock is ahead, it is not yet part of today's reports."""
    later = {"cardiology/t.md": "---\nconcepts: [Torsades]\nwritten: 2027-03-01\n---\nText.\n"}
    opened = session(later)
    assert opened.base.notes == ()
    done = rename(opened, "concept", "torsades", "Torsade", dry_run=False)
    assert done.files == ("cardiology/t.md",)
    assert opened.whole.notes[0].concepts == ("Torsade",)
