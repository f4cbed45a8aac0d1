"""A search reads only what changed, and answers as if it had read everything."""

from __future__ import annotations

import os
import random
import time
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from kb.presentation.render import render_json
from kb.services.session import Session
from kb.storage import attempt_store

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

NOW = datetime(2027, 2, 14, 9, 30, tzinfo=UTC)
NOTE = """---
title: {title}
area: cardiology
questions: [north:1]
written: 2027-01-02
---
{body}
"""
LOG = "id,at,question,outcome,remark\na1,2027-02-01T12:00:00+00:00,north:1,wrong,read as kalium\n"


@pytest.fixture
def root(base: Callable[..., Path]) -> Path:
    """A base of two notes, all files an hour old."""
    made = base(
        {
            "cardiology/one.md": NOTE.format(title="Potassium", body="Tall T waves come first."),
            "cardiology/two.md": NOTE.format(title="Sodium", body="Thirst, then confusion."),
            "log/attempts-x.csv": LOG,
        }
    )
    age(made)
    return made


def age(root: Path) -> None:
    """Make every file look an hour old."""
    past = time.time() - 3600
    for path in root.rglob("*"):
        if path.is_file():
            os.utime(path, (past, past))


def find(root: Path, words: str, now: datetime = NOW, **given: object) -> str:
    """What a new process answers."""
    start = Session(root, now=now, device="test")
    found = render_json(start.report("find", {"words": words, **given}), start.today)
    start.index.close()
    return found


def find_afresh(
    root: Path, words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, now: datetime = NOW
) -> str:
    """What it answers when nothing was kept."""
    place = os.environ["MISSBOOK_CACHE"]
    monkeypatch.setenv("MISSBOOK_CACHE", str(tmp_path / f"cache-{random.random()}"))
    found = find(root, words, now)
    monkeypatch.setenv("MISSBOOK_CACHE", place)
    return found


def reads(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """One entry for each time that the log is read from now on."""
    found: list[str] = []
    real = attempt_store.read_log

    def watched(*given: object) -> object:
        found.append("log")
        return real(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(attempt_store, "read_log", watched)
    return found


def test_a_second_search_reads_no_log(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nor when the text of a note was edited, which it finds."""
    find(root, "thirst")
    read = reads(monkeypatch)
    assert '"thirst"' in find(root, "thirst").casefold()
    path = root / "cardiology/two.md"
    path.write_text(NOTE.format(title="Sodium", body="Only drowsiness."), encoding="utf-8")
    assert '"drowsiness"' in find(root, "drowsiness")
    assert '"Sodium"' not in find(root, "thirst")
    assert read == []


BODIES = (
    "Something else.",
    "# Potassium\n\nA heading, and potassium potassium.",
    "See [sodium](two.md), and potassium. Read as kalium.",
    "```\n# potassium\n```\nCode, for the parser.",
    "",
)


@pytest.mark.parametrize("before", BODIES)
@pytest.mark.parametrize("after", BODIES)
def test_an_edited_note_is_found_as_if_all_were_read(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, before: str, after: str
) -> None:
    """Whatever the edit: text, headings, links."""
    path = root / "cardiology/one.md"
    path.write_text(NOTE.format(title="Potassium", body=before), encoding="utf-8")
    age(root)
    find(root, "potassium")
    path.write_text(NOTE.format(title="Potassium", body=after), encoding="utf-8")
    for words in ("potassium", "thirst", "code", "kalium"):
        assert find(root, words) == find_afresh(root, words, tmp_path, monkeypatch)


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("cardiology/one.md", "title: Potassium", "title: Kalium"),
        ("cardiology/one.md", "north:1", "north:2"),
        ("cardiology/one.md", "written: 2027-01-02", "written: 2027-02-03"),
        ("cardiology/one.md", "written: 2027-01-02", "written: 2027-03-03"),
        ("cardiology/one.md", "written: 2027-01-02\n", ""),
        ("cardiology/one.md", "cardiology", "neurology"),
        ("study.yaml", "Europe/London", "Asia/Tokyo"),
        ("log/attempts-x.csv", "kalium", "natrium"),
        ("log/attempts-x.csv", ",wrong", ",right"),
    ],
)
def test_what_else_changes_is_seen_as_well(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str, old: str, new: str
) -> None:
    """Front matter, settings and answers decide what is shown of a note, or what it is found by."""
    find(root, "potassium")
    path = root / name
    path.write_text(path.read_text(encoding="utf-8").replace(old, new, 1), encoding="utf-8")
    for words in ("potassium", "kalium", "natrium"):
        assert find(root, words) == find_afresh(root, words, tmp_path, monkeypatch)


@pytest.mark.parametrize("name", ["cardiology/three.md", "glossary.yaml", "cardiology/one.md"])
def test_a_file_that_comes_or_goes_is_seen(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    """A new note, the glossary, a note that is gone."""
    find(root, "potassium")
    path = root / name
    if path.exists():
        path.unlink()
    else:
        path.write_text("QZ: [potassium]\n", encoding="utf-8")
    for words in ("potassium", "QZ"):
        assert find(root, words) == find_afresh(root, words, tmp_path, monkeypatch)


def test_the_day_of_a_note_has_cards_of_its_own(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A note written tomorrow is not found today, and is tomorrow."""
    path = root / "cardiology/one.md"
    text = path.read_text(encoding="utf-8").replace("2027-01-02", "2027-02-15")
    path.write_text(text, encoding="utf-8")
    age(root)
    assert '"Potassium"' not in find(root, "potassium")
    tomorrow = NOW + timedelta(days=1)
    found = find(root, "potassium", tomorrow)
    assert '"Potassium"' in found
    assert found == find_afresh(root, "potassium", tmp_path, monkeypatch, tomorrow)
    assert '"Potassium"' not in find(root, "potassium")


def test_days_on_which_nothing_changes_share_their_cards(
    root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The log is read again where an answer comes in, before or after, and in another year."""
    with (root / "log/attempts-x.csv").open("a", encoding="utf-8") as file:
        file.write("a2,2027-03-01T12:00:00+00:00,north:1,right,\n")
    age(root)
    find(root, "thirst")
    read = reads(monkeypatch)
    for day in (1, 28):
        find(root, "thirst", NOW.replace(day=day))
    assert read == []
    for moment in (NOW.replace(month=1), NOW.replace(month=3), NOW.replace(year=2028)):
        found = find(root, "thirst", moment)
        assert read.pop() == "log"
        assert found == find_afresh(root, "thirst", tmp_path, monkeypatch, moment)


def test_filters_ask_the_base(root: Path) -> None:
    """What they leave out is not in the answer, before and after a search without them."""
    assert '"Sodium"' in find(root, "thirst", area="cardiology")
    find(root, "thirst")
    assert '"Sodium"' not in find(root, "thirst", area="neurology")
    assert '"Sodium"' in find(root, "thirst")


def test_a_change_within_the_grain_of_the_clock_is_seen(root: Path) -> None:
    """A note changed again at once, of the same size and with the same time."""
    path = root / "cardiology/one.md"
    moment = time.time()
    for word in ("thirst", "things"):
        path.write_text(NOTE.format(title="Potassium", body=f"Just {word}."), encoding="utf-8")
        os.utime(path, (moment, moment))
        assert '"Potassium"' in find(root, f"just {word}")
