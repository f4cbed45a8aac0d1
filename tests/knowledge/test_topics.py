"""An area falls into topics that cost what the log says, in an order to read."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from kb.knowledge import build_graph
from kb.knowledge.topics import ALONE, Bridge, Topic, find_bridges, find_topics, unplaced_misses
from kb.stats.marks_at_risk import Risk
from kb.stats.note_state import judge, open_misses

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session

EXAM = """\
exam: The Quill Examination
date: 2027-05-11
blueprint:
  - {area: cardiology, name: Cardiology, items: 80}
  - {area: nephrology, name: Nephrology, items: 70, topics: [vasculitis, stones]}
"""
LOG = """\
id,at,question,outcome,concept
id01,2027-02-01T10:00:00+00:00,north:101,wrong,
id02,2027-02-01T10:01:00+00:00,north:102,right,
id03,2027-02-01T10:02:00+00:00,north:110,wrong,ANCA
id04,2027-02-01T10:03:00+00:00,north:111,wrong,
"""


def note(area: str, concepts: str, questions: str = "", body: str = "Text.") -> str:
    """A note's file."""
    head = f"area: {area}\nconcepts: [{concepts}]\nquestions: [{questions}]\nwritten: 2027-01-10"
    return f"---\n{head}\n---\n{body}\n"


FILES = {
    "exam.yaml": EXAM,
    "n/a.md": note("nephrology", "ANCA, vasculitis", "north:101", "Builds on [b](b.md)."),
    "n/b.md": note("nephrology", "vasculitis", "north:102"),
    "n/c.md": note("nephrology", "ANCA", "north:103"),
    "n/s.md": note("nephrology", "stones"),
    "n/t.md": note("nephrology", "stones, calcium"),
    "n/lone.md": note("nephrology", "alkaptonuria"),
    "c/d.md": note("cardiology", "Vasculitis, calcium"),
    "log/attempts-test.csv": LOG,
}


def topics_of(start: Session, area: str = "nephrology") -> tuple[Topic, ...]:
    """The topics of one area."""
    base, today = start.base, start.today
    risk = Risk(base, today)
    graph = build_graph(base)
    return find_topics(base, graph, base.exam.area(area), judge(base, today), risk)


def test_notes_that_share_concepts_are_one_topic(session: Callable[..., Session]) -> None:
    """Each topic has its notes, under the blueprint's own name where one fits."""
    found = {topic.name: set(topic.notes) for topic in topics_of(session(FILES))}
    assert found == {"vasculitis": {"a", "b", "c"}, "stones": {"s", "t"}, ALONE: {"lone"}}


def test_the_dearest_topic_stands_first_and_lone_notes_last(
    session: Callable[..., Session],
) -> None:
    """Topics are ordered by marks at risk; what nothing ties comes at the end."""
    assert [topic.name for topic in topics_of(session(FILES))] == ["vasculitis", "stones", ALONE]


def test_a_topic_counts_what_fails_is_unproven_and_open(session: Callable[..., Session]) -> None:
    """States come from the log, and an open miss goes where its concept is at home."""
    topic = topics_of(session(FILES))[0]
    assert topic.failing == ("a",)
    assert topic.untested == ("c",)
    assert topic.open_misses == ("north:110",)


def test_a_question_of_two_notes_costs_once(session: Callable[..., Session]) -> None:
    """Marks of a topic are those of its distinct questions and open misses."""
    files = FILES | {"n/b.md": note("nephrology", "vasculitis", "north:101")}
    start = session(files)
    risk = Risk(start.base, start.today)
    topic = topics_of(start)[0]
    asked = ("north:101", "north:103", "north:110")
    assert topic.marks == pytest.approx(sum(risk.marks(q) for q in asked))  # type: ignore[arg-type]


def test_what_a_note_builds_on_is_read_before_it(session: Callable[..., Session]) -> None:
    """A failing note leads, but not before the note that it links to."""
    assert topics_of(session(FILES))[0].notes == ("b", "a", "c")


def test_misses_that_no_topic_took_are_left_over(session: Callable[..., Session]) -> None:
    """An open miss without a known concept is not hidden."""
    start = session(FILES)
    found = unplaced_misses(topics_of(start), open_misses(start.base, start.today), "nephrology")
    assert [row.question for row in found] == ["north:111"]


def test_an_area_without_notes_has_no_topic(session: Callable[..., Session]) -> None:
    """Nothing written is no error."""
    assert topics_of(session({"exam.yaml": EXAM})) == ()


def test_topics_are_the_same_every_time(session: Callable[..., Session]) -> None:
    """Two looks at one base give the same topics in the same order."""
    start = session(FILES)
    assert topics_of(start) == topics_of(start)


def test_concepts_of_several_areas_are_bridges(session: Callable[..., Session]) -> None:
    """A bridge names its areas in the blueprint's order; a concept of one area is none."""
    assert find_bridges(session(FILES).base, "nephrology") == (
        Bridge(concept="Vasculitis", areas=("cardiology", "nephrology"), note_count=3),  # type: ignore[arg-type]
        Bridge(concept="calcium", areas=("cardiology", "nephrology"), note_count=2),  # type: ignore[arg-type]
    )
