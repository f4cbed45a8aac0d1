"""What a report said is said again only while nothing could make it say anything else."""

from __future__ import annotations

import os
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner

from kb.cli import main
from kb.services.session import Session
from kb.stats.marks_at_risk import Risk
from kb.storage import report_cache
from kb.storage.note_catalogue import Catalogue

if TYPE_CHECKING:
    from collections.abc import Callable

NOW = datetime(2027, 2, 14, 12, tzinfo=UTC)
NOTE = "---\ntitle: One\narea: cardiology\nquestions: [north:1]\nwritten: 2027-01-01\n---\nText.\n"
HEAD = "id,at,question,outcome\n"
MISS = "a1,2027-02-01T12:00:00+00:00,north:1,wrong\n"


@pytest.fixture
def root(base: Callable[..., Path]) -> Path:
    """A base whose files were all written an hour ago."""
    made = base({"cardiology/one.md": NOTE, "log/attempts-x.csv": HEAD + MISS})
    age(made)
    return made


def age(root: Path) -> None:
    """Let every file look an hour old."""
    past = time.time() - 3600
    for path in root.rglob("*"):
        if path.is_file():
            os.utime(path, (past, past))


def queue(root: Path, *more: str) -> str:
    """The answer of one command."""
    words = ["--base", str(root), "queue", "--as-of", "2027-02-14", *more]
    result = CliRunner().invoke(main, words, catch_exceptions=False)
    assert result.exit_code == 0
    return result.stdout


def computes(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the reports that are computed from now on."""
    found: list[str] = []
    report = Session.report

    def watched(self: Session, name: str, given: dict[str, object] | None = None) -> object:
        found.append(name)
        return report(self, name, given)

    monkeypatch.setattr(Session, "report", watched)
    return found


def test_asked_again_nothing_is_computed(root: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same answer to the letter, separately for each form."""
    computed = computes(monkeypatch)
    first = queue(root)
    assert queue(root) == first
    assert computed == ["queue"]
    assert queue(root, "--json") != first
    assert queue(root, "--limit", "1")
    assert computed == ["queue"] * 3


@pytest.mark.parametrize("change", ["note", "log", "new", "gone"])
def test_a_changed_file_is_seen(root: Path, monkeypatch: pytest.MonkeyPatch, change: str) -> None:
    """A note, the log, a new file, or a missing one."""
    queue(root)
    computed = computes(monkeypatch)
    if change == "note":
        (root / "cardiology/one.md").write_text(NOTE + "More.\n", encoding="utf-8")
    elif change == "log":
        with (root / "log/attempts-x.csv").open("a", encoding="utf-8") as stream:
            stream.write(MISS.replace("a1", "a2").replace("north:1", "north:2"))
    elif change == "new":
        (root / "cardiology/two.md").write_text(NOTE.replace("One", "Two"), encoding="utf-8")
    else:
        (root / "cardiology/one.md").unlink()
    queue(root)
    assert computed == ["queue"]


def test_a_file_that_may_still_change_unseen_is_not_trusted(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One written just now: a second write could leave its size and time as they are."""
    (root / "cardiology/one.md").touch()
    queue(root)
    computed = computes(monkeypatch)
    queue(root)
    assert computed == ["queue"]


def test_another_day_or_another_program_asks_again(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Midnight where the person is ends the day; a changed file of the program ends all."""

    def mark(hours: float) -> str:
        return Session(root, now=NOW + timedelta(hours=hours), device="test").fingerprint

    first = mark(0)
    assert mark(11.9) == first
    assert mark(12) != first
    monkeypatch.setattr(report_cache, "code_mark", lambda: "another")
    assert mark(0) != first


def test_what_is_kept_is_never_much(root: Path) -> None:
    """The oldest of 42 reports go; one kept again counts as new, and is there once."""
    catalogue = Catalogue(root)
    catalogue.refresh()
    asked: list[dict[str, object]] = [{"report": "queue", "limit": n} for n in range(42)]
    for number in (*range(40), 0, 40, 41):
        report_cache.keep(catalogue, "m", asked[number], f"text {number}")
    found = [report_cache.recall(catalogue, "m", question) for question in asked]
    assert [n for n, text in enumerate(found) if text == f"text {n}"] == [0, *range(3, 42)]
    assert found[1:3] == [None, None]
    report_cache.keep(catalogue, "", asked[1], "never")
    assert report_cache.recall(catalogue, "", asked[1]) is None
    assert report_cache.recall(catalogue, "n", asked[0]) is None


def test_the_program_is_all_its_files_but_bytecode(tmp_path: Path) -> None:
    """Names, sizes and times, in folders too."""
    for name in ("a.py", "sub/b.py", "__pycache__/a.pyc", "sub/__pycache__/b.pyc"):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"x" * len(name))
        os.utime(path, ns=(5, 7))
    found = sorted(report_cache._files(str(tmp_path)))
    named = [(Path(path).relative_to(tmp_path).as_posix(), *rest) for path, *rest in found]
    assert named == [("a.py", 4, 7), ("sub/b.py", 8, 7)]


def test_a_question_is_the_same_whatever_the_order_of_its_options(root: Path) -> None:
    """Kept under one order, found under another; not with another value or fingerprint."""
    catalogue = Catalogue(root)
    report_cache.keep(catalogue, "f", {"name": "queue", "limit": 5}, "text")
    assert report_cache.recall(catalogue, "f", {"limit": 5, "name": "queue"}) == "text"
    assert report_cache.recall(catalogue, "f", {"limit": 6, "name": "queue"}) is None
    assert report_cache.recall(catalogue, "g", {"limit": 5, "name": "queue"}) is None


def test_what_is_at_risk_is_worked_out_once_for_all_reports(
    root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The next report takes what the first one kept, and says the same as without it; a new answer
    or another day has it worked out again.
    """
    asked: list[str] = []
    work = Risk._judge_questions

    def watched(self: Risk) -> dict[str, Any]:
        asked.append(self.today.isoformat())
        return work(self)

    monkeypatch.setattr(Risk, "_judge_questions", watched)
    first, again = queue(root), queue(root, "--limit", "1")
    assert asked == ["2027-02-14"]
    assert first == again
    CliRunner().invoke(main, ["--base", str(root), "queue", "--as-of", "2027-02-15"])
    (root / "log" / "attempts-x.csv").write_text(
        HEAD + MISS + MISS.replace("a1", "a2").replace("-01T", "-02T"), encoding="utf-8"
    )
    age(root)
    assert queue(root, "--limit", "1") != first
    assert asked == ["2027-02-14", "2027-02-15", "2027-02-14"]
