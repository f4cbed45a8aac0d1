"""The short way to answer a search gives what the long way gives, or steps aside."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from kb.presentation.render import render_json
from kb.services.quick import Quick
from kb.services.session import Session
from kb.storage.kept import Header, Kept
from kb.storage.scan import look

NOW = datetime(2027, 2, 14, 9, 30, tzinfo=UTC)
EXAM = """exam: Trial
date: 2027-05-11
blueprint:
  - area: renal
    name: Renal
    items: 200
"""
NOTE = """---
title: {title}
area: renal
questions: [north:1]
written: 2027-01-02
---
{body}
"""


@pytest.fixture
def base(tmp_path: Path) -> Path:
    """A base of two notes, all files an hour old."""
    (tmp_path / "exam.yaml").write_text(EXAM, encoding="utf-8")
    (tmp_path / "study.yaml").write_text("timezone: UTC\n", encoding="utf-8")
    (tmp_path / "renal").mkdir()
    write(tmp_path, "one", "Potassium and the ECG", "Tall T waves come first.")
    write(tmp_path, "two", "Sodium", "Thirst, then confusion.")
    age(tmp_path)
    return tmp_path


def write(base: Path, name: str, title: str, body: str) -> None:
    """Write one note."""
    text = NOTE.format(title=title, body=body)
    (base / "renal" / f"{name}.md").write_text(text, encoding="utf-8")


def age(base: Path) -> None:
    """Make every file look an hour old."""
    past = (NOW - timedelta(hours=1)).timestamp()
    for path in base.rglob("*"):
        if path.is_file():
            os.utime(path, (past, past))


def long_way(base: Path, words: str, now: datetime = NOW) -> str:
    """The report as the session computes it; what it needs next time is kept."""
    quick = Quick(base, None, now)
    session = Session(base, now=now, device="trial")
    report = session.report("find", {"words": words})
    quick.keep(session)
    return render_json(report, session.today)


def short_way(base: Path, words: str, now: datetime = NOW, **given: object) -> str | None:
    """The report from what was kept, or None."""
    found = Quick(base, None, now).find({"words": words, **given})
    return render_json(*found) if found else None


@pytest.mark.parametrize("words", ["potassium", "thirst -sodium", '"tall T waves"', "hello?"])
def test_both_ways_give_the_same_report(base: Path, words: str) -> None:
    """Whatever is asked, what was kept leads to the very same report."""
    expected = long_way(base, words)
    assert short_way(base, words) == expected


def test_before_anything_was_kept_only_the_long_way_will_do(base: Path) -> None:
    """Nothing kept, nothing told."""
    assert short_way(base, "potassium") is None


BODIES = (
    "Something else.",
    "# Potassium\n\nA heading, and potassium potassium.",
    "Nothing of it.\n\n## Then\nThirst.",
    "See [sodium](two.md), and potassium.",
    "```\n# potassium\n```\nCode, for the parser.",
    "",
)


@pytest.mark.parametrize("before", BODIES)
@pytest.mark.parametrize("after", BODIES)
def test_an_edited_text_is_found_as_the_long_way_finds_it(
    base: Path, before: str, after: str
) -> None:
    """Right after an edit the short way tells of the new text, or leaves it to the long way.

    It does so whenever neither heading of the first level nor links changed.
    """
    write(base, "one", "Potassium and the ECG", before)
    age(base)
    long_way(base, "potassium")
    write(base, "one", "Potassium and the ECG", after)
    asked = ("potassium", "thirst", "code", "something")
    short = {words: short_way(base, words) for words in asked}
    if ("[" in before) == ("[" in after) and before.startswith("# ") == after.startswith("# "):
        assert None not in short.values()
    session = Session(base, now=NOW, device="trial")
    for words, found in short.items():
        if found is not None:
            report = session.report("find", {"words": words})
            assert found == render_json(report, NOW.date())


def test_nothing_is_written_for_an_edit(base: Path) -> None:
    """The short way changes no file, so that it can spoil none."""
    long_way(base, "potassium")
    write(base, "one", "Potassium and the ECG", "Something else.")
    before = {path: path.read_bytes() for path in base.rglob("*") if path.is_file()}
    assert short_way(base, "something") is not None
    assert {path: path.read_bytes() for path in base.rglob("*") if path.is_file()} == before


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("title: Potassium", "title: Kalium"),
        ("north:1", "north:2"),
        ("written: 2027-01-02", "written: 2027-01-03"),
    ],
)
def test_a_changed_front_matter_ends_the_short_way(base: Path, old: str, new: str) -> None:
    """Title, questions and the day of writing decide what is told of a note."""
    long_way(base, "potassium")
    path = base / "renal" / "one.md"
    path.write_text(path.read_text(encoding="utf-8").replace(old, new), encoding="utf-8")
    assert short_way(base, "potassium") is None


def test_a_note_that_does_not_say_when_it_was_written_takes_the_long_way(base: Path) -> None:
    """Its file's own time is then the day of writing, and an edit changes it."""
    path = base / "renal" / "one.md"
    text = path.read_text(encoding="utf-8").replace("written: 2027-01-02\n", "")
    path.write_text(text, encoding="utf-8")
    age(base)
    long_way(base, "potassium")
    path.write_text(text + "More.\n", encoding="utf-8")
    assert short_way(base, "potassium") is None


@pytest.mark.parametrize("name", ["exam.yaml", "study.yaml", "renal/three.md", "glossary.yaml"])
def test_any_file_that_comes_or_changes_ends_the_short_way(base: Path, name: str) -> None:
    """Settings, new notes and the glossary count as much as a note."""
    long_way(base, "potassium")
    path = base / name
    text = path.read_text(encoding="utf-8") if path.exists() else ""
    path.write_text(text + "# more\n", encoding="utf-8")
    assert short_way(base, "potassium") is None


def test_the_next_day_ends_the_short_way(base: Path) -> None:
    """Evidence is told as of today."""
    long_way(base, "potassium")
    assert short_way(base, "potassium", NOW + timedelta(days=1)) is None


def test_filters_take_the_long_way(base: Path) -> None:
    """What was kept answers words and pages only."""
    long_way(base, "potassium")
    assert short_way(base, "potassium", area="renal") is None
    assert short_way(base, "potassium", page=1, area=None, state="") is not None


def test_a_note_just_written_is_read_again(base: Path) -> None:
    """A change within the clock's grain, of the same size, is seen all the same."""
    path, moment = base / "renal" / "one.md", (NOW.timestamp(), NOW.timestamp())
    write(base, "one", "Potassium and the ECG", "Just thirst.")
    os.utime(path, moment)
    long_way(base, "thirst")
    write(base, "one", "Potassium and the ECG", "Just things.")
    os.utime(path, moment)
    found = short_way(base, "things")
    report = Session(base, now=NOW, device="trial").report("find", {"words": "things"})
    assert found == render_json(report, NOW.date())
    assert '"things"' in found


def test_a_log_just_written_is_not_kept(base: Path) -> None:
    """Only notes are read again: answers that may still change take the long way."""
    path = base / "study.yaml"
    os.utime(path, (NOW.timestamp(), NOW.timestamp()))
    long_way(base, "potassium")
    assert short_way(base, "potassium") is None


def test_a_day_asked_for_has_its_own_rows(base: Path) -> None:
    """What is told as of one day is not told of another, nor of today."""
    day = (NOW - timedelta(days=3)).date()
    quick = Quick(base, None, NOW, day)
    session = Session(base, now=NOW, device="trial", as_of=day)
    expected = render_json(session.report("find", {"words": "potassium"}), day)
    quick.keep(session)
    found = Quick(base, None, NOW + timedelta(days=9), day).find({"words": "potassium"})
    assert found is not None
    assert render_json(*found) == expected
    assert short_way(base, "potassium") is None
    assert Quick(base, None, NOW, NOW.date()).find({"words": "potassium"}) is None


def test_damaged_rows_are_passed_over(base: Path) -> None:
    """Rubbish in the derived folder is no reason to fail."""
    long_way(base, "potassium")
    (base / ".missbook" / "find.jsonl").write_bytes(b"\xff\x00 rubbish")
    assert short_way(base, "potassium") is None


def test_every_kept_row_is_found_again(tmp_path: Path) -> None:
    """Looking up by bisection finds each name, whatever its letters, and no other."""
    kept = Kept(tmp_path)
    names = ["a", "ab", "a b", "ä", "z-9", 'quote"d', "\u65e5", "b" * 300]
    seen = look(tmp_path)
    header = Header.fresh(seen, "f", "2027-02-14", 0.0, 1.0)
    kept.write(header, {name: (name, ("x",)) for name in names}, seen, 0)
    assert kept.header() == header
    found = kept.rows([*names, "missing", ""])
    assert {name: row[0] for name, row in found.items()} == {name: name for name in names}
