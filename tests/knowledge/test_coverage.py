"""Gaps are counted right, and what looks alike is asked about."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from kb.knowledge.coverage import (
    share_areas,
    share_topics,
    spelled_two_ways,
    too_long,
    topics_without_note,
    unmet_areas,
    unreached,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session

EXAM = """\
exam: The Quill Examination
date: 2027-05-11
blueprint:
  - {area: cardiology, name: Cardiology, items: 50, topics: [valve disease, arrhythmia]}
  - {area: nephrology, name: Nephrology, items: 150, topics: [stones]}
"""
LOG = """\
id,at,question,area,outcome,concept
id01,2027-02-01T10:00:00+00:00,x:1,cardiology,wrong,
id02,2027-02-01T10:01:00+00:00,x:2,cardiology,right,arrhythmias
id03,2027-02-02T10:01:00+00:00,x:1,cardiology,wrong,
id04,2027-02-01T10:02:00+00:00,x:3,nephrology,wrong,
id05,2027-02-01T10:03:00+00:00,x:4,nephrology,right,
"""


def note(area: str, concepts: str = "", questions: str = "", body: str = "Text.") -> str:
    """A note's file."""
    return f"---\narea: {area}\nconcepts: [{concepts}]\nquestions: [{questions}]\n---\n{body}\n"


FILES = {
    "exam.yaml": EXAM,
    "a.md": note("cardiology", "arrhythmia", "x:1"),
    "b.md": note("[cardiology, nephrology]", "arrhythmia, kidney"),
    "log/attempts-test.csv": LOG,
}


def test_shares_are_counted_by_area(session: Callable[..., Session]) -> None:
    """Exam, notes (half for a note of two areas), questions met once each, and every miss."""
    rows = {row.area: row for row in share_areas(session(FILES).base)}
    heart = rows["cardiology"]  # type: ignore[index]
    assert heart.exam_fraction == 0.25
    assert heart.note_fraction == 0.75
    assert heart.met_fraction == 0.5
    assert heart.miss_fraction == pytest.approx(2 / 3)


def test_shares_add_up_to_one(session: Callable[..., Session]) -> None:
    """Each kind of share is shared out whole."""
    rows = share_areas(session(FILES).base)
    for name in ("exam_fraction", "note_fraction", "met_fraction", "miss_fraction"):
        assert sum(getattr(row, name) for row in rows) == pytest.approx(1)


def test_the_area_furthest_behind_stands_first(session: Callable[..., Session]) -> None:
    """Three quarters of the exam with a quarter of the notes lead the list."""
    assert share_areas(session(FILES).base)[0].area == "nephrology"


def test_an_empty_base_has_no_shares_but_those_of_the_exam(
    session: Callable[..., Session],
) -> None:
    """Nothing divides by nothing: what there is none of has no share."""
    row = share_areas(session({"exam.yaml": EXAM}).base)[0]
    assert (row.note_fraction, row.met_fraction, row.miss_fraction) == (None, None, None)


def test_topics_count_notes_and_questions_known_to_be_on_them(
    session: Callable[..., Session],
) -> None:
    """A question is on a topic through a note that answers it, or by the concept in the log."""
    base = session(FILES).base
    row = share_topics(base, base.exam.area("cardiology"))[1]
    assert (row.topic, row.note_count, row.met_count, row.miss_count) == ("arrhythmia", 2, 2, 2)


def test_topics_without_a_note_are_listed(session: Callable[..., Session]) -> None:
    """They come in the blueprint's order with their area."""
    assert topics_without_note(session(FILES).base) == (
        ("cardiology", "valve disease"),
        ("nephrology", "stones"),
    )


def test_a_plural_or_another_spelling_covers_a_topic(session: Callable[..., Session]) -> None:
    """`Valvular` is not `valve`, but `valve diseases` is `valve disease`."""
    files = FILES | {"c.md": note("cardiology", "valve diseases, aortic")}
    missing = topics_without_note(session(files).base)
    assert ("cardiology", "valve disease") not in missing


def test_an_area_in_which_nothing_was_met_is_named(session: Callable[..., Session]) -> None:
    """It is a gap of its own, whatever the notes say."""
    files = {"exam.yaml": EXAM, "log/attempts-test.csv": "\n".join(LOG.split("\n")[:3]) + "\n"}
    assert [area.id for area in unmet_areas(session(files).base)] == ["nephrology"]


@pytest.mark.parametrize(
    ("one", "other", "sure"),
    [
        ("haemolysis", "hemolysis", True),
        ("stones", "stone", True),
        ("sarcoidosis", "sarcodosis", False),
    ],
)
def test_two_spellings_of_one_concept_are_found(
    session: Callable[..., Session], one: str, other: str, sure: bool
) -> None:
    """Those that the search takes for one are sure; a letter out of place is asked about."""
    base = session({"a.md": note("cardiology", one), "b.md": note("cardiology", other)}).base
    found = spelled_two_ways(base)
    assert [(set(row.spellings), row.sure) for row in found] == [({one, other}, sure)]


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("hyperkalaemia", "hypokalaemia"),
        ("type 1 diabetes", "type 2 diabetes"),
        ("IgA", "IgG"),
        ("stroke", "Stroke"),
        ("gout", "pseudogout"),
    ],
)
def test_two_ideas_are_not_taken_for_two_spellings(
    session: Callable[..., Session], one: str, other: str
) -> None:
    """What differs in meaning, or in a capital first letter alone, is left in peace."""
    base = session({"a.md": note("cardiology", one), "b.md": note("cardiology", other)}).base
    assert spelled_two_ways(base) == ()


def test_a_note_that_nothing_reaches_is_found(session: Callable[..., Session]) -> None:
    """Sharing an area is no tie; a link in either direction is."""
    files = {
        "a.md": note("cardiology", "x", body="See [b](b.md)."),
        "b.md": note("cardiology", "y"),
        "c.md": note("cardiology", "z"),
    }
    base = session(files).base
    assert [one.id for one in unreached(base)] == ["c"]


def test_notes_too_long_to_re_read_are_listed_longest_first(
    session: Callable[..., Session],
) -> None:
    """From 401 words on; 400 are still fine."""
    files = {
        "a.md": note("cardiology", body="word " * 401),
        "b.md": note("cardiology", body="word " * 400),
        "c.md": note("cardiology", body="word " * 900),
    }
    assert [one.id for one in too_long(session(files).base)] == ["c", "a"]
