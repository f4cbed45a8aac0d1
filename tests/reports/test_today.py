"""What today holds agrees with plan and queue."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from kb.planning.pace import Pace
from kb.presentation.report_model import Entries, Facts, Table, Text
from kb.reports.today import review_text

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date

    from kb.services.session import Session

HEAD = "id,at,question,area,outcome\n"
LOG = HEAD + "".join(
    f"q{n},2027-02-0{1 + n % 9}T10:00+00:00,north:{n},,{'wrong' if n % 3 else 'right'}\n"
    for n in range(1, 30)
)
NOTES = {
    f"cardiology/n{n}.md": f"---\ntitle: Idea {n}\narea: cardiology\nquestions: [north:{n}]\n"
    "written: 2027-01-01\n---\nShort.\n"
    for n in range(1, 9)
}


def block(report: Any, kind: type, key: str) -> Any:
    """The block of that kind and key."""
    return next(b for b in report.blocks if isinstance(b, kind) and b.key == key)


def test_the_day_is_that_of_the_plan(session: Callable[..., Session], today: date) -> None:
    """Notes, questions, minutes and shift are the plan's own first row."""
    own = session({"log/attempts-test.csv": LOG})
    facts = block(own.report("today"), Facts, "counts").facts
    told = {key: value for key, _, value, _ in facts}
    table = block(own.report("plan"), Table, "days")
    row = dict(zip((column.key for column in table.columns), table.rows[0], strict=True))
    assert row["date"] == today
    for key in ("note_count", "missed_count", "new_count", "minutes", "shift"):
        assert told[key] == row[key]


def test_the_notes_are_the_head_of_the_queue(session: Callable[..., Session]) -> None:
    """The same notes in the same order."""
    own = session({"log/attempts-test.csv": LOG, **NOTES})
    heads, queue = (
        [
            entry.head
            for each in own.report(*asked).blocks
            if isinstance(each, Entries) and each.key == "notes"
            for entry in each.entries
        ]
        for asked in (("today",), ("queue",))
    )
    assert heads == queue[:3]


def test_the_day_names_the_list_of_all_notes(demo: Session) -> None:
    """A few notes are shown: one line says how many there are, and where."""
    texts = [b.text for b in demo.report("today").blocks if isinstance(b, Text)]
    assert "54 notes need work, 2 marks at risk in all: missbook queue" in texts


def test_open_misses_are_named(session: Callable[..., Session]) -> None:
    """How many misses have no note, and what they are worth."""
    own = session({"log/attempts-test.csv": LOG})
    texts = [b.text for b in own.report("today").blocks if isinstance(b, Text)]
    assert any("misses have no note yet" in text for text in texts)


def test_after_the_exam_no_day_is_planned(session: Callable[..., Session]) -> None:
    """Once the exam is over the page says so instead of planning."""
    from datetime import date

    own = session({"log/attempts-test.csv": LOG}, on=date(2027, 6, 1))
    report = own.report("today")
    assert "the exam is over" in report.right
    assert "No study day is left before the exam." in [
        b.text for b in report.blocks if isinstance(b, Text)
    ]


@pytest.mark.parametrize(
    ("count", "miss_fraction", "line"),
    [
        (36, 0.35, "25 of these minutes are for the 13 or so you will miss"),
        (3, 0.35, "2 of these minutes are for the one that you will miss"),
        (2, 0.3, "1 of these minutes is for the one that you will miss"),
        (1, 0.3, ""),
    ],
)
def test_minutes_of_review_agree_in_number(count: int, miss_fraction: float, line: str) -> None:
    """By hand, at 120 s a miss: 12.6 misses cost 25 minutes, 1.05 cost 2, .6 cost 1."""
    assert review_text(count, Pace(miss_fraction=miss_fraction)) == line
