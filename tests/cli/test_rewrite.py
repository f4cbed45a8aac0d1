"""Rewriting a note that failed: its links stay, its moment is new."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner

from kb.cli import main

if TYPE_CHECKING:
    from collections.abc import Callable

    from click.testing import Result

NOTE = """\
---
title: Potassium
area: nephrology   # kept
questions: [north:150]
written: 2027-01-01
---
Old text.
"""


@pytest.fixture
def run(base: Callable[..., Path]) -> Callable[..., Result]:
    """Run missbook on a base with one note."""
    root = base({"potassium.md": NOTE})

    def call(*arguments: str) -> Result:
        given = [*arguments, "--base", str(root), "--as-of", "2027-02-14"]
        return CliRunner().invoke(main, given)

    call.note = root / "potassium.md"  # type: ignore[attr-defined]
    return call


def test_the_text_is_replaced_and_the_rest_stays(run: Callable[..., Result]) -> None:
    """Every line of the front matter stays but `written`."""
    result = run("rewrite", "potassium", "--text", "New text.")
    assert result.exit_code == 0
    expected = NOTE.replace("Old text.", "New text.").replace(
        "written: 2027-01-01", "written: 2027-02-14T12:00+00:00"
    )
    found = run.note.read_text(encoding="utf-8")  # type: ignore[attr-defined]
    assert found.replace("'", "").replace('"', "") == expected


def test_a_stamp_alone_keeps_the_text(run: Callable[..., Result]) -> None:
    """For a note that was rewritten in another editor."""
    run("rewrite", "potassium", "--stamp")
    found = run.note.read_text(encoding="utf-8")  # type: ignore[attr-defined]
    assert found.endswith("---\nOld text.\n")
    assert "2027-02-14T12:00" in found


@pytest.mark.parametrize("text", ["Old text.", " \n"])
def test_nothing_new_is_refused(run: Callable[..., Result], text: str) -> None:
    """The same text, or none, leaves the note as it was, so that it is not judged anew."""
    result = run("rewrite", "potassium", "--text", text)
    assert result.exit_code == 2
    assert run.note.read_text(encoding="utf-8") == NOTE  # type: ignore[attr-defined]


def test_an_unknown_note_is_named(run: Callable[..., Result]) -> None:
    """With the nearest that there is."""
    result = run("rewrite", "potasium", "--stamp")
    assert result.exit_code == 2
    assert "potassium" in result.stderr
