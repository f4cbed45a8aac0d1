"""What a search begins ahead is a guess: right or wrong, the answer is the same."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from kb.storage import ahead

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def bases(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Two bases; the person is in a folder of the first. Nothing was begun yet."""
    monkeypatch.setattr(ahead, "_begun", {})
    for name in ("first", "second"):
        (tmp_path / name / "renal").mkdir(parents=True)
        (tmp_path / name / "exam.yaml").write_text("", encoding="utf-8")
    monkeypatch.chdir(tmp_path / "first" / "renal")
    return tmp_path


@pytest.mark.parametrize(
    ("words", "environ", "name"),
    [
        ("find x", {}, "first"),
        ("find x", {"MISSBOOK_BASE": "../../second"}, "second"),
        ("find x --base ../../second", {}, "second"),
        ("find --base=../../second x", {"MISSBOOK_BASE": "none"}, "second"),
        ("--base ../../second find x", {}, "second"),
    ],
)
def test_the_base_that_is_meant_is_begun(
    bases: Path, words: str, environ: dict[str, str], name: str
) -> None:
    """As the command itself finds it: named, from the environment, or around the person."""
    ahead.set_out(words.split(), environ)
    assert [root.resolve() for root in ahead._begun] == [(bases / name).resolve()]


@pytest.mark.parametrize("words", ["queue", "note find", "", "find x --base none", "find --base"])
def test_nothing_is_begun_for_nothing(
    bases: Path, words: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """For other commands, and where there is no base."""
    monkeypatch.chdir(bases)
    ahead.set_out(words.split(), {})
    assert not ahead._begun


def test_what_was_begun_is_used_once(bases: Path) -> None:
    """The next search of the same process looks again."""
    ahead.set_out(["find", "x"], {})
    root = bases / "first" / "renal"
    found = ahead.base_at(root, None)
    assert found is not None
    (begun,) = ahead._begun.values()
    assert ahead.glance(found) is begun
    assert ahead.glance(found) is not begun
