"""Mix-ups are read from remarks, counted both ways round, and joined to the note that compares."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.mixups import clusters, parse_pair, rank_mixups
from kb.model import Attempt, AttemptId, QuestionId

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.session import Session


@pytest.mark.parametrize(
    ("remark", "pair"),
    [
        ("gout vs pseudogout", ("gout", "pseudogout")),
        ("Pseudogout vs. gout", ("gout", "Pseudogout")),
        ("TTP v DIC", ("DIC", "TTP")),
        ("gout or pseudogout", ("gout", "pseudogout")),
        ("PBC not PSC", ("PBC", "PSC")),
        ("PBC/PSC", ("PBC", "PSC")),
        ("gout versus pseudogout; crystals again", ("gout", "pseudogout")),
        ("read the stem", None),
        ("gout vs gout", None),
        ("gout vs", None),
        ("", None),
        ("a very long clause of many words that names nothing vs gout", None),
    ],
)
def test_a_remark_names_a_pair_or_none(remark: str, pair: tuple[str, str] | None) -> None:
    """Both names as written, in alphabetical order."""
    assert parse_pair(remark) == pair


@given(st.text(max_size=80))
def test_no_remark_makes_it_raise(remark: str) -> None:
    """Whatever was typed in a queue."""
    parse_pair(remark)


def miss(number: int, remark: str, outcome: str = "wrong") -> Attempt:
    """An answer with a remark."""
    return Attempt(
        id=AttemptId(""),
        at=datetime(2027, 2, 1, 12, number, tzinfo=UTC),
        question=QuestionId(f"north:{number}"),
        outcome=outcome,  # type: ignore[arg-type]
        remark=remark,
    )


def test_both_ways_round_is_one_mixup(session: Callable[..., Session]) -> None:
    """Counts, questions and cost add up; a right answer does not count."""
    start = session()
    drafts = [
        miss(1, "gout vs pseudogout"),
        miss(2, "Pseudogout vs Gout"),
        miss(3, "a vs b", "right"),
    ]
    start.record(drafts, title="t", day_only=False)
    marks = {QuestionId("north:1"): 0.25, QuestionId("north:2"): 0.5}
    (row,) = rank_mixups(start.base, marks)
    assert (row.one, row.other, row.count, row.marks) == ("Gout", "Pseudogout", 2, 0.75)
    assert row.questions == ("north:1", "north:2")
    assert row.note is None


def test_the_comparing_note_is_found_by_title_or_concepts(
    session: Callable[..., Session],
) -> None:
    """A note that names only one of the two does not compare them."""
    files = {
        "cardiology/a.md": "---\ntitle: Gout alone\n---\nx\n",
        "cardiology/b.md": "---\ntitle: Crystals\nconcepts: [gout, Pseudogout]\n---\nx\n",
    }
    start = session(files)
    start.record([miss(1, "gout vs pseudogout")], title="t", day_only=False)
    assert rank_mixups(start.base, {})[0].note == "b"


def test_names_that_hang_together_form_a_cluster(session: Callable[..., Session]) -> None:
    """Three or more; a lone pair is no cluster."""
    start = session()
    remarks = ["a vs b", "b vs c", "x vs y"]
    drafts = [miss(n, remark) for n, remark in enumerate(remarks, start=1)]
    start.record(drafts, title="t", day_only=False)
    assert clusters(rank_mixups(start.base, {})) == (("a", "b", "c"),)
