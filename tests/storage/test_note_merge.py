"""Merging on disk: links follow, the second note is set aside, and a changed note is left alone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from kb.core.errors import ConflictError
from kb.storage import atomic_files
from kb.storage.note_merge import Expected, merge_notes

if TYPE_CHECKING:
    from pathlib import Path

WHEN = "2027-02-14T12:00+00:00"
FILES = {
    "a/one.md": "---\ntitle: One\narea: a\nwritten: 2027-01-10\n---\nFirst.\n",
    "a/two.md": "---\ntitle: Two\narea: a\nwritten: 2027-01-10\n---\nSecond.\n",
    "a/three.md": "---\ntitle: Three\narea: a\nwritten: 2027-01-10\n---\nSee [it](two.md).\n",
}


def expected(root: Path, path: str) -> Expected:
    """A note as it is now."""
    return Expected(path=path, digest=atomic_files.digest((root / path).read_bytes()))


@pytest.fixture
def notes(tmp_path: Path) -> Path:
    """Three notes; the third links to the second."""
    for path, text in FILES.items():
        (tmp_path / path).parent.mkdir(exist_ok=True)
        (tmp_path / path).write_bytes(text.encode())
    (tmp_path / "log").mkdir()
    return tmp_path


def test_a_link_to_the_second_leads_to_the_first(notes: Path) -> None:
    """And the second is no note any more."""
    merge_notes(
        notes, expected(notes, "a/one.md"), expected(notes, "a/two.md"), ["a/three.md"], WHEN
    )
    assert (notes / "a/three.md").read_text("utf-8").endswith("See [it](one.md).\n")
    assert not (notes / "a/two.md").exists()
    assert (notes / "a/one.md").read_text("utf-8").endswith("First.\n\n## Two\n\nSecond.\n")


@pytest.mark.parametrize("path", ["a/one.md", "a/two.md"])
def test_a_note_that_changed_meanwhile_stops_it(notes: Path, path: str) -> None:
    """Nothing is written, not even in the note that links."""
    one, two = expected(notes, "a/one.md"), expected(notes, "a/two.md")
    (notes / path).write_bytes((FILES[path] + "More.\n").encode())
    before = {name: (notes / name).read_bytes() for name in FILES}
    with pytest.raises(ConflictError, match="the file changed since it was read"):
        merge_notes(notes, one, two, ["a/three.md"], WHEN)
    assert {name: (notes / name).read_bytes() for name in FILES} == before


@pytest.mark.parametrize(
    ("there", "aside"),
    [
        ({}, "a/set-aside-two.txt"),
        ({"a/set-aside-two.txt": FILES["a/two.md"]}, "a/set-aside-two.txt"),
        ({"a/set-aside-two.txt": "another note\n"}, "a/set-aside-two-2.txt"),
        (
            {"a/set-aside-two.txt": "another\n", "a/set-aside-two-2.txt": "a third\n"},
            "a/set-aside-two-3.txt",
        ),
    ],
)
def test_the_second_note_is_set_aside_under_a_name_of_its_own(
    notes: Path, there: dict[str, str], aside: str
) -> None:
    """A file of that name is kept; a copy left by a merge that was cut off is used again."""
    for name, text in there.items():
        (notes / name).write_bytes(text.encode())
    one, two = expected(notes, "a/one.md"), expected(notes, "a/two.md")
    assert merge_notes(notes, one, two, [], WHEN) == aside
    assert (notes / aside).read_bytes().decode() == FILES["a/two.md"]
    for name, text in there.items():
        assert (notes / name).read_bytes().decode() == text
    assert len(list((notes / "a").glob("set-aside-*"))) == len({*there, aside})
