"""`map` shows an area by topics, or a note by what surrounds it, always with a reason."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from conftest import TODAY

from kb.cli import main
from kb.core.errors import NotFoundError, QueryError
from kb.presentation.render import render_json, render_text
from kb.services.session import Session

if TYPE_CHECKING:
    from collections.abc import Callable

    from tests.conftest import Golden


def note(area: str, concepts: str, questions: str = "", body: str = "Text.") -> str:
    """A note's file."""
    head = f"area: {area}\nconcepts: [{concepts}]\nquestions: [{questions}]\nwritten: 2027-01-10"
    return f"---\n{head}\n---\n{body}\n"


FILES = {
    "n/a.md": note("nephrology", "ANCA, vasculitis", "north:101", "Builds on [b](b.md)."),
    "n/b.md": note("nephrology", "vasculitis"),
    "c/d.md": note("cardiology", "vasculitis"),
    "c/e.md": note("cardiology", "murmur"),
    "log/attempts-test.csv": (
        "id,at,question,outcome\n"
        "id01,2027-02-01T10:00:00+00:00,north:101,wrong\n"
        "id02,2027-02-01T10:01:00+00:00,north:150,wrong\n"
    ),
}


def shown(start: Session, words: str, **more: object) -> str:
    """The report as text."""
    return render_text(start.report("map", {"words": words, **more}))


@pytest.mark.parametrize("area", ["cardiology", "nephrology", "rheumatology"])
def test_areas_of_the_demo_read_as_they_should(demo: Session, golden: Golden, area: str) -> None:
    """The map of an area is what it was when somebody read it last."""
    golden.check(f"reports/map-{area}.txt", shown(demo, area))


def test_a_topic_shows_its_notes_in_the_order_to_read(session: Callable[..., Session]) -> None:
    """What a note builds on stands before it, and a failing note is marked."""
    text = shown(session(FILES), "nephrology")
    assert "1 failing, 1 untested: missbook brief vasculitis" in text
    assert text.index("- b (untested)") < text.index("- a (failing)")


def test_misses_of_no_topic_are_counted(session: Callable[..., Session]) -> None:
    """An open miss that fits nowhere is said, with the command that answers it."""
    assert "1 miss without a note fits none of these groups" in shown(session(FILES), "nephrology")


def test_bridges_name_the_other_areas_they_reach(session: Callable[..., Session]) -> None:
    """A concept of two areas is listed with the one that the map is not of."""
    assert "vasculitis: Cardiology  " in shown(session(FILES), "Nephrology")


def test_notes_of_other_areas_come_with_their_reason(session: Callable[..., Session]) -> None:
    """A note from elsewhere says what it shares; one that shares nothing stays away."""
    report = session(FILES).report("map", {"words": "nephrology"})
    near = json.loads(render_json(report, TODAY))["near"]
    assert [(row["note"], row["lines"][0].startswith("shares vasculitis")) for row in near] == [
        ("d", True)
    ]


def test_a_note_shows_what_is_near_and_what_to_link(session: Callable[..., Session]) -> None:
    """A linked note is near; one that shares a concept and is not linked is offered as a link, and
    no note comes twice.
    """
    text = shown(session(FILES), "a")
    assert "linked from it; both about vasculitis" in text
    assert "Not linked, and perhaps should be" in text
    assert "[d](../c/d.md)" in text
    heads = [line.split()[1] for line in text.splitlines() if line[:1].isdigit()]
    assert len(heads) == len(set(heads)) > 1


def test_a_note_that_nothing_touches_says_so(session: Callable[..., Session]) -> None:
    """An empty answer is a sentence, not a blank."""
    files = {"n/a.md": note("nephrology", "x"), "c/b.md": note("cardiology", "y", body="Other.")}
    assert "No other note is related" in shown(session(files), "a")


def test_an_area_without_notes_says_so(session: Callable[..., Session]) -> None:
    """An area of the blueprint may be empty."""
    assert "No note on Neurology yet: missbook note" in shown(session(FILES), "neurology")


def test_an_unknown_name_offers_the_nearest(session: Callable[..., Session]) -> None:
    """A slip of the pen is met with what was meant."""
    with pytest.raises(NotFoundError, match="nephrology"):
        session(FILES).report("map", {"words": "nefrology"})


def test_a_limit_below_one_is_refused(session: Callable[..., Session]) -> None:
    """No list of nothing."""
    with pytest.raises(QueryError):
        session(FILES).report("map", {"words": "nephrology", "limit": 0})


def test_the_answer_is_the_same_after_deleting_what_is_derived(
    session: Callable[..., Session],
) -> None:
    """Nothing derived is the truth: rebuilt, the map is the same."""
    start = session(FILES)
    before = shown(start, "nephrology")
    shutil.rmtree(start.catalogue.store.folder)
    start.reload()
    assert shown(start, "nephrology") == before


def test_the_command_fits_eighty_columns(base: Callable[..., Path]) -> None:
    """On the command line no line is wider than a terminal."""
    words = ["map", "nephrology", "--base", str(base(FILES)), "--as-of", "2027-02-14"]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0
    assert max(len(line) for line in result.output.split("\n")) <= 80
