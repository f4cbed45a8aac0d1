"""The history of a note holds every answer to its questions, and nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from kb.core.errors import NotFoundError
from kb.presentation.report_model import Entries, Facts, Text

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session

LOG = """\
id,at,question,area,outcome,chosen,key,reason,remark
a,2027-01-05T10:00+00:00,north:1,,wrong,C,B,two-left,mixed up with gout
b,2027-01-20T10:00+00:00,north:1,,right,,,,
c,2027-01-21T10:00+00:00,north:2,,wrong,A,D,,
d,2027-01-22T10:00+00:00,north:3,,wrong,,,,
"""
READ = "id,at,note,seconds\nr1,2027-01-10T20:00+00:00,one,30\nr2,2027-01-12T20:00+00:00,one,\n"
NOTE = """\
---
title: One idea
area: cardiology
questions: [north:1, north:2, north:9]
basis: review article, 2024
written: 2027-01-06
---
Short.
"""


@pytest.fixture
def report(session: Callable[..., Session]) -> Any:
    """The history of the one note."""
    files = {"cardiology/one.md": NOTE, "log/attempts-test.csv": LOG, "log/readings-test.csv": READ}
    return session(files).report("history", {"words": "one idea"})


def questions(report: Any) -> tuple[Any, ...]:
    """The rows of its questions."""
    rows: tuple[Any, ...] = next(b for b in report.blocks if isinstance(b, Entries)).entries
    return rows


def test_each_question_has_its_answers_latest_first(report: Any) -> None:
    """What was chosen, the key, the reason and the remark stand with each answer."""
    row = next(row for row in questions(report) if row.head == "north:1")
    assert row.right == ("missed 1 of 2",)
    assert row.lines == (
        "20 Jan right, 5 Jan wrong (chose C, key B; down to two; mixed up with gout)",
    )


def test_the_questions_come_in_pages(session: Callable[..., Session]) -> None:
    """The second page has the third question alone."""
    opened = session({"cardiology/one.md": NOTE, "log/attempts-test.csv": LOG})
    second = opened.report("history", {"words": "one idea", "limit": 2, "page": 2})
    assert [row.head for row in questions(second)] == ["north:9"]
    assert not [block for block in second.blocks if isinstance(block, Facts)]


def test_the_question_missed_last_stands_first(report: Any) -> None:
    """Then those missed longer ago, then those never missed; other notes' are not there."""
    assert [row.head for row in questions(report)] == ["north:2", "north:1", "north:9"]
    assert questions(report)[2].right == ("not in the log",)


def test_the_evidence_and_what_to_do_come_first(report: Any) -> None:
    """The first sentence is that of the queue."""
    first = next(b for b in report.blocks if isinstance(b, Text))
    assert first.text.startswith(
        "Missed once since you wrote it, 2 of the last 3; last tried 21 Jan."
    )


def test_readings_and_basis_are_told(report: Any) -> None:
    """How often it was read, and where its fact was checked."""
    told = {k: v for b in report.blocks if isinstance(b, Facts) for k, _, v, _ in b.facts}
    assert told["read"] == "twice, last on 12 Jan 2027"
    assert told["basis"] == "review article, 2024"


def test_a_note_that_is_not_there_is_named(session: Callable[..., Session]) -> None:
    """The hint offers the nearest."""
    own = session({"cardiology/one-idea.md": NOTE})
    with pytest.raises(NotFoundError) as error:
        own.report("history", {"words": "one-ideas"})
    assert error.value.hint == "did you mean one-idea?"
