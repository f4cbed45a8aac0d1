"""Whatever was done last on a device can be taken back, and brought back again."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from click.testing import Result

GOUT = "---\ntitle: Gout\narea: nephrology\nquestions: [north:150]\n---\nUrate crystals.\n"
TWIN = "---\ntitle: Gout again\narea: nephrology\n---\nNeedles, negatively birefringent.\n"


@pytest.fixture
def run(beside: Callable[..., Callable[..., Result]]) -> Callable[..., Result]:
    """Two notes and a log of one block, at the command line."""
    call = beside({"nephrology/gout.md": GOUT, "nephrology/twin.md": TWIN})
    assert call("log", "block", "north", "101-110", "--wrong", "103").exit_code == 0
    return call


def state(root: Path) -> Mapping[str, str]:
    """What the base says: its notes and settings as bytes, and a few reports."""
    return {
        path.relative_to(root).as_posix(): path.read_bytes().decode()
        for path in sorted(root.rglob("*"))
        if path.suffix in (".md", ".yaml", ".txt") and not {"log", ".missbook"} & {*path.parts}
    }


def told(run: Callable[..., Result]) -> str:
    """What reports say that depend on the logs."""
    commands = (("history", "north:103"), ("note",), ("queue", "--json"), ("log", "list", "--json"))
    return "".join(run(*command).stdout for command in commands)


@pytest.mark.parametrize(
    "command",
    [
        ("log", "one", "north:104", "x"),
        ("log", "block", "north", "1-40", "--wrong", "3"),
        ("log", "undo", "--last"),
        ("note", "north:103", "--dismiss", "nothing"),
        ("note", "north:103", "--link", "gout"),
        ("note", "north:103", "--text", "Pseudogout: rhomboid."),
        ("rewrite", "gout", "--text", "Quite another text."),
        ("merge", "gout", "twin"),
        ("read", "gout"),
        ("draw", "5"),
        ("sitting", "mock", "--score", "cardiology=12/19"),
    ],
    ids=lambda command: " ".join(command[:3]),
)
def test_every_act_is_taken_back_and_brought_back(
    run: Callable[..., Result], tmp_path: Path, command: tuple[str, ...]
) -> None:
    """The files and the reports are as they were before, and then as they were after."""
    root = tmp_path / "base"
    before = state(root), told(run)
    done = run(*command)
    assert done.exit_code == 0, done.output
    after = state(root), told(run)
    undone = run("undo")
    assert undone.exit_code == 0, undone.output
    assert undone.stdout.startswith("Undone: ")
    assert (state(root), told(run)) == before
    again = run("undo")
    assert again.stdout.startswith("Redone: ")
    assert (state(root), told(run)) == after
    assert run("undo").stdout.startswith("Undone: ")
    assert (state(root), told(run)) == before


def test_a_score_taken_back_can_be_logged_again_the_same_day(run: Callable[..., Result]) -> None:
    """Under an id of its own, and only once."""
    score = ("sitting", "mock", "--score", "cardiology=12/19")
    run(*score)
    run("undo")
    assert "1 score" in run(*score).stdout
    assert "cardiology" in run("sitting", "mock").stdout.casefold()
    assert "has that score already" in run(*score).stdout


def test_an_older_act_is_taken_back_by_its_id(run: Callable[..., Result]) -> None:
    """The block, with a later answer staying; the list shows what each was."""
    run("log", "one", "north:1", "x")
    shown = run("undo", "--list").stdout
    line = next(line for line in shown.splitlines() if "10 answers logged" in line)
    result = run("undo", line.split()[0])
    assert "Undone: 10 answers logged." in result.stdout
    assert '"answer_count": 1' in run("log", "list", "--json").stdout
    assert run("undo", line.split()[0]).exit_code == 2


def test_what_changed_since_is_not_undone(run: Callable[..., Result], tmp_path: Path) -> None:
    """The note was edited by hand: nothing is lost, and it is said why."""
    run("note", "north:103", "--link", "gout")
    note = tmp_path / "base" / "nephrology" / "gout.md"
    note.write_text(note.read_text(encoding="utf-8") + "More.\n", encoding="utf-8")
    result = run("undo")
    assert result.exit_code == 2
    assert "nephrology/gout.md: the file changed since; nothing was undone" in result.stderr
    assert "More." in note.read_text(encoding="utf-8")


def test_a_dismissed_miss_is_opened_again_by_its_question(run: Callable[..., Result]) -> None:
    """However long ago it was dismissed."""
    run("note", "north:103", "--dismiss", "nothing")
    run("log", "one", "north:1", "x")
    assert "north:103" not in run("note").stdout
    assert "its miss is open again" in run("log", "undo", "north:103").stdout
    assert "north:103" in run("note").stdout


def test_log_undo_takes_back_any_older_act_by_its_id(run: Callable[..., Result]) -> None:
    """A note linked before the last act; the id is that of the list."""
    run("note", "north:103", "--link", "gout")
    run("log", "one", "north:1", "x")
    linked = run("undo", "--list").stdout.splitlines()[4].split()[0]
    assert run("log", "undo", linked).stdout.startswith("Undone: ")
    assert "north:103" in run("note").stdout
    assert run("undo").stdout.startswith("Redone: ")


def test_with_nothing_done_it_says_so(beside: Callable[..., Callable[..., Result]]) -> None:
    """In one line."""
    result = beside()("undo")
    assert result.exit_code == 2
    assert "nothing was done on this device yet" in result.stderr


def test_a_remark_is_scrubbed_for_good(run: Callable[..., Result], tmp_path: Path) -> None:
    """No file of the base has it any more; the answer counts as before, and all else stays."""
    run("log", "one", "north:104", "x", "C>B", "Mr Smith, DOB 3/4/56", "--no-patient")
    log = tmp_path / "base" / "log" / "attempts-test.csv"
    before = log.read_bytes()
    own = before.decode().splitlines()[-1].split(",")[0]
    assert f"missbook log scrub {own}" in run("check").stdout
    assert run("log", "scrub", own).exit_code == 0
    assert b"Smith" not in b"".join(p.read_bytes() for p in tmp_path.rglob("*") if p.is_file())
    after = log.read_bytes()
    assert after.splitlines()[:-1] == before.splitlines()[:-1]
    assert after.endswith(b",scrubbed\r\n")
    assert "chose C, key B" in run("note").stdout
    assert "log scrub" not in run("check").stdout
    assert run("log", "scrub", "0000000000000000").exit_code == 2


def test_a_remark_that_no_longer_counts_is_checked_too(run: Callable[..., Result]) -> None:
    """What was taken back or dismissed is in the file still, and can be scrubbed."""
    run("log", "one", "north:104", "x", "C>B", "Mr Smith, DOB 3/4/56", "--no-patient")
    run("undo")
    (own,) = set(re.findall(r"log scrub (\w+)", run("check").stdout))
    assert run("log", "scrub", own).exit_code == 0
    assert "log scrub" not in run("check").stdout


def test_a_merge_is_one_thing_done(run: Callable[..., Result]) -> None:
    """Not three files: one changed, one removed, one written."""
    assert run("merge", "gout", "twin").exit_code == 0
    listed = " ".join(run("undo", "--list").stdout.split())
    assert "nephrology/twin.md merged into nephrology/gout.md" in listed
    assert "removed" not in listed


def test_a_note_about_a_patient_is_not_written(run: Callable[..., Result]) -> None:
    """At every door; what was typed is kept, and one's word lets it in."""
    text = "Mr Smith, DOB 3/4/56, had gout."
    for command in (
        ("compare", "gout", "pseudogout", "--area", "nephrology", "--text", text),
        ("note", "north:103", "--text", text),
        ("note", "north:103", "--text", "A fact.", "--basis", "NHS 943 476 5870"),
        ("rewrite", "gout", "--text", text),
    ):
        result = run(*command)
        assert result.exit_code == 2
        assert "this looks like" in result.stderr
        assert run(*command, "--no-patient").exit_code == 0


def test_settings_that_a_rota_wrote_are_taken_back(
    run: Callable[..., Result], tmp_path: Path
) -> None:
    """study.yaml is byte for byte as it was, and as it became."""
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", "PRODID:x", "BEGIN:VEVENT", "UID:1"]
    lines += ["DTSTART:20270220T090000", "DTEND:20270220T170000", "SUMMARY:Ward", "END:VEVENT"]
    calendar = tmp_path / "rota.ics"
    calendar.write_text("\r\n".join([*lines, "END:VCALENDAR", ""]), encoding="utf-8")
    before = state(tmp_path / "base")
    done = run("rota", str(calendar))
    assert done.exit_code == 0, done.output
    after = state(tmp_path / "base")
    assert after != before
    assert run("undo").exit_code == 0
    assert state(tmp_path / "base") == before
    assert run("undo").exit_code == 0
    assert state(tmp_path / "base") == after
