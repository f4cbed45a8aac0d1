"""Two notes become one, and nothing of either is lost, wherever it fails."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from kb.cli import main
from kb.core.errors import ConflictError, KBError
from kb.formats.note_merging import merge_texts, move_links
from kb.services.note_editing import merge_notes
from kb.storage import atomic_files

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from kb.services.session import Session

KEEP = """\
---
title: SIADH first
area: nephrology
concepts: [SIADH]
questions: [north:101, north:102]
basis: text A
written: 2027-01-10
mine: stays  # as I wrote it
---
Exclude the adrenal. See [the other](../cardiology/other.md).
"""
OTHER = """\
---
title: SIADH is what is left
area: cardiology
concepts: [siadh, sodium]
questions:
  - north:1
  - north:101
basis: text B
written: 2027-01-12
theirs: also mine
---
Not dry, no diuretic. See [murmurs](murmurs.md#loud) and `[code](murmurs.md)`.

[ref]: murmurs.md
"""
MURMURS = """\
---
area: cardiology
questions: [north:2]
---
As in [SIADH](other.md), also [by path](../cardiology/other.md#top) and [web](https://x.example).
"""
BASE = {
    "nephrology/keep.md": KEEP,
    "cardiology/other.md": OTHER,
    "cardiology/murmurs.md": MURMURS,
}


def run(root: Path, *words: str) -> tuple[int, str]:
    """Exit status and all output of one command."""
    result = CliRunner().invoke(main, [*words, "--base", str(root), "--as-of", "2027-02-14"])
    return result.exit_code, result.output


def questions(start: Session) -> set[str]:
    """Every question that any note of the base answers."""
    start.reload()
    return {question for note in start.whole.notes for question in note.questions}


def test_the_kept_note_holds_all_of_both(base: Callable[..., Path]) -> None:
    """Questions, concepts, areas, basis and text of both are in the note that stays."""
    root = base(BASE)
    code, _ = run(root, "merge", "keep", "other")
    text = (root / "nephrology/keep.md").read_text()
    assert code == 0
    assert "area: [nephrology, cardiology]" in text
    assert "concepts: [SIADH, sodium]" in text
    assert "questions: [north:101, north:102, north:1]" in text
    assert "basis: text A; text B" in text
    assert "mine: stays  # as I wrote it" in text
    assert "## SIADH is what is left\n\nNot dry, no diuretic." in text


def test_it_is_judged_from_the_later_of_the_two_days(base: Callable[..., Path]) -> None:
    """The note that stays is stamped with the day on which the second of the two was written."""
    root = base(BASE)
    run(root, "merge", "keep", "other")
    assert "written: 2027-01-12\n" in (root / "nephrology/keep.md").read_text()


def test_links_lead_where_they_led(base: Callable[..., Path]) -> None:
    """Links of moved text, and links to the note that went, reach their notes; code stays code."""
    root = base(BASE)
    run(root, "merge", "keep", "other")
    kept = (root / "nephrology/keep.md").read_text()
    assert "[murmurs](../cardiology/murmurs.md#loud)" in kept
    assert "`[code](murmurs.md)`" in kept
    assert "[ref]: ../cardiology/murmurs.md" in kept
    assert "See the other." in kept
    linking = (root / "cardiology/murmurs.md").read_text()
    assert "[SIADH](../nephrology/keep.md)" in linking
    assert "[by path](../nephrology/keep.md#top)" in linking
    assert "https://x.example" in linking
    assert run(root, "check")[1].count("leads nowhere") == 0


def test_the_note_that_went_is_set_aside_whole(base: Callable[..., Path]) -> None:
    """Its file, with keys nobody knows, is kept as text that is no note."""
    root = base(BASE)
    run(root, "merge", "keep", "other")
    assert not (root / "cardiology/other.md").exists()
    assert (root / "cardiology/set-aside-other.txt").read_text() == OTHER


def test_a_dry_run_writes_nothing(base: Callable[..., Path]) -> None:
    """It prints what the note would become and leaves every file alone."""
    root = base(BASE)
    code, output = run(root, "merge", "keep", "other", "--dry-run")
    assert code == 0
    assert "north:101, north:102, north:1]" in output
    assert (root / "nephrology/keep.md").read_text() == KEEP
    assert (root / "cardiology/other.md").read_text() == OTHER


def test_a_note_is_not_merged_with_itself(base: Callable[..., Path]) -> None:
    """It is refused in one line with exit status 2."""
    root = base(BASE)
    assert run(root, "merge", "keep", "SIADH first")[0] == 2
    assert (root / "nephrology/keep.md").read_text() == KEEP


@pytest.mark.parametrize("changed", ["nephrology/keep.md", "cardiology/other.md"])
def test_a_file_that_changed_underneath_is_not_merged(
    session: Callable[..., Session], changed: str
) -> None:
    """Either file is held against the digest that was read; then nothing is written."""
    start = session(BASE)
    keep, other = start.note("keep"), start.note("other")
    digests = start.text(keep)[1], start.text(other)[1]
    path = start.root / changed
    path.write_text(path.read_text() + "Written meanwhile.\n")
    before = {name: (start.root / name).read_bytes() for name in BASE}
    with pytest.raises(ConflictError):
        merge_notes(start, keep, other, *digests)
    assert {name: (start.root / name).read_bytes() for name in BASE} == before


@pytest.mark.parametrize("step", range(4))
def test_no_question_is_lost_wherever_it_fails(
    session: Callable[..., Session], monkeypatch: pytest.MonkeyPatch, step: int
) -> None:
    """With any one write failing, every question link is there, and doing it again finishes."""
    start = session(BASE)
    keep, other = start.note("keep"), start.note("other")
    digests = start.text(keep)[1], start.text(other)[1]
    whole = questions(start)
    real_replace, real_remove, done = atomic_files.replace_file, atomic_files.remove_file, []

    def fails(real: Callable[..., None]) -> Callable[..., None]:
        def call(*args: object, **given: object) -> None:
            done.append(real)
            if len(done) == step + 1:
                raise KBError("the disk is full")
            real(*args, **given)

        return call

    with monkeypatch.context() as patched:
        patched.setattr(atomic_files, "replace_file", fails(real_replace))
        patched.setattr(atomic_files, "remove_file", fails(real_remove))
        with pytest.raises(KBError, match="the disk is full"):
            merge_notes(start, keep, other, *digests)
    assert questions(start) == whole
    keep, other = start.note("nephrology/keep.md"), start.note("cardiology/other.md")
    merge_notes(start, keep, other, start.text(keep)[1], start.text(other)[1])
    assert questions(start) == whole
    assert start.body(start.note("keep")).count("Not dry, no diuretic.") == 1
    assert not (start.root / "cardiology/other.md").exists()


def test_newlines_of_the_kept_note_stay() -> None:
    """Text taken in has the newline style of the note that stays."""
    merged = merge_texts(
        KEEP.replace("\n", "\r\n"), "nephrology/keep.md", OTHER, "cardiology/other.md", "2027-01-12"
    )
    assert "\n" not in merged.replace("\r\n", "")


def test_front_matter_that_cannot_take_it_is_refused() -> None:
    """A note whose front matter is not closed is not written over."""
    with pytest.raises(KBError):
        merge_texts("---\ntitle: x\n", "a.md", OTHER, "b.md", "2027-01-12")


def test_links_in_a_fence_are_left_alone() -> None:
    """Code is not a link."""
    body = "```\n[a](other.md)\n```\n[a](other.md)\n"
    moved = move_links(body, "x/a.md", "x/a.md", "x/other.md", "y/new.md")
    assert moved == "```\n[a](other.md)\n```\n[a](../y/new.md)\n"
