"""Mix-ups are read from remarks, counted both ways round, and joined to the note that compares."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.ids import AttemptId, QuestionId
from kb.core.model import Attempt, Base
from kb.core.pairs import parse_pair
from kb.core.settings import Exam, Study
from kb.knowledge.mixups import clusters, pair_misses, rank_mixups
from kb.services.answer_logging import log_answers

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session


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


def miss(
    number: int,
    remark: str,
    outcome: str = "wrong",
    *,
    letters: str = "",
    minute: int | None = None,
    reason: str = "",
) -> Attempt:
    """An answer with a remark; `letters` are the chosen option and the key."""
    chosen, key = letters or ("", "")
    return Attempt(
        chosen=chosen,
        key=key,
        reason=reason,  # type: ignore[arg-type]
        id=AttemptId(""),
        at=datetime(2027, 2, 1, 12, number if minute is None else minute, tzinfo=UTC),
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
    log_answers(start, drafts, title="t", day_only=False)
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
    log_answers(start, [miss(1, "gout vs pseudogout")], title="t", day_only=False)
    assert rank_mixups(start.base, {})[0].note == "b"


def test_names_that_hang_together_form_a_cluster(session: Callable[..., Session]) -> None:
    """Three or more; a lone pair is no cluster."""
    start = session()
    remarks = ["a vs b", "b vs c", "x vs y"]
    drafts = [miss(n, remark) for n, remark in enumerate(remarks, start=1)]
    log_answers(start, drafts, title="t", day_only=False)
    assert clusters(rank_mixups(start.base, {})) == (("a", "b", "c"),)


def test_letters_named_once_tell_the_pair_of_the_next_miss(
    session: Callable[..., Session],
) -> None:
    """The same two options of the same question; other letters of it say nothing."""
    start = session()
    drafts = [
        miss(1, "gout vs pseudogout", letters="CB"),
        miss(1, "", letters="CB", minute=2),
        miss(1, "", letters="CA", minute=3),
        miss(2, "", letters="CB", minute=4),
    ]
    log_answers(start, drafts, title="t", day_only=False)
    (row,) = rank_mixups(start.base, {})
    assert (row.count, row.inferred_count, row.questions) == (2, 1, ("north:1",))


def test_a_comparing_note_tells_what_was_mixed_up_in_its_questions(
    session: Callable[..., Session],
) -> None:
    """Its title compares two of its concepts; a misread stem and a miss without letters say
    nothing of it.
    """
    front = "title: 'Swollen knee: gout or pseudogout?'\nconcepts: [gout, pseudogout, joints]"
    files = {
        "cardiology/a.md": f"---\n{front}\nquestions: [north:1]\n---\nx\n",
        "cardiology/b.md": "---\ntitle: Treat or leave\nquestions: [north:2]\n---\nx\n",
    }
    start = session(files)
    drafts = [
        miss(1, "", letters="CB"),
        miss(1, "", letters="CB", minute=2, reason="misread"),
        miss(1, "", minute=3),
        miss(2, "", letters="CB", minute=4),
    ]
    log_answers(start, drafts, title="t", day_only=False)
    (told,) = pair_misses(start.base)
    assert (told.pair, told.told) == (("gout", "pseudogout"), "notes")


def test_two_notes_on_different_things_tell_a_pair(session: Callable[..., Session]) -> None:
    """The first concept of each; notes that share a concept are about one thing."""
    files = {
        "cardiology/a.md": "---\ntitle: A\nconcepts: [gout]\nquestions: [north:1]\n---\nx\n",
        "cardiology/b.md": (
            "---\ntitle: B\nconcepts: [sepsis, joints]\nquestions: [north:1, north:2]\n---\nx\n"
        ),
        "cardiology/c.md": "---\ntitle: C\nconcepts: [Joints]\nquestions: [north:2]\n---\nx\n",
    }
    start = session(files)
    drafts = [miss(1, "", letters="CB"), miss(2, "", letters="CB")]
    log_answers(start, drafts, title="t", day_only=False)
    assert [found.pair for found in pair_misses(start.base)] == [("gout", "sepsis")]


def test_an_abbreviation_is_the_name_it_stands_for(session: Callable[..., Session]) -> None:
    """By the stock, by the base's own glossary, and in American spelling; shown as last written."""
    files = {
        "glossary.yaml": "FHH: [familial hypocalciuric hypercalcaemia]\n",
        "cardiology/a.md": (
            "---\ntitle: Clots and bleeds\n"
            "concepts: [disseminated intravascular coagulation, TTP]\n---\nx\n"
        ),
    }
    start = session(files)
    drafts = [
        miss(1, "TTP vs disseminated intravascular coagulation"),
        miss(2, "DIC vs TTP"),
        miss(3, "FHH vs hyperparathyroidism"),
        miss(4, "familial hypocalciuric hypercalcemia v hyperparathyroidism"),
    ]
    log_answers(start, drafts, title="t", day_only=False)
    found = {(row.one, row.other): row.note for row in rank_mixups(start.base, {})}
    assert found == {
        ("DIC", "TTP"): "a",
        ("familial hypocalciuric hypercalcemia", "hyperparathyroidism"): None,
    }


def test_cost_counts_each_question_once_and_orders_before_frequency() -> None:
    """Worked by hand: one miss worth .5 comes before three misses of one question worth .25, which
    cost .25 and not .75; of two pairs worth the same, the more frequent is first.
    """
    attempts = tuple(
        replace(miss(question, remark, minute=minute), id=AttemptId(str(minute)))
        for minute, (question, remark) in enumerate(
            [
                (1, "gout vs pseudogout"),
                (1, "gout vs pseudogout"),
                (1, "pseudogout vs gout"),
                (2, "PBC vs PSC"),
                (3, "a vs b"),
                (4, "x vs y"),
                (4, "x vs y"),
            ]
        )
    )
    exam = Exam(name="E", date=date(2027, 5, 1), areas=())
    base = Base(exam=exam, study=Study(), attempts=attempts)
    marks = {QuestionId("north:1"): 0.25, QuestionId("north:2"): 0.5}
    rows = rank_mixups(base, marks)
    assert [(row.one, row.count, row.marks) for row in rows] == [
        ("PBC", 1, 0.5),
        ("gout", 3, 0.25),
        ("x", 2, 0.0),
        ("a", 1, 0.0),
    ]


@pytest.mark.parametrize(("day", "count"), [(1, 1), (2, 0)])
def test_since_includes_its_day(day: int, count: int) -> None:
    """A miss of 1 February, since the 1st and since the 2nd."""
    exam = Exam(name="E", date=date(2027, 5, 1), areas=())
    base = Base(exam=exam, study=Study(), attempts=(miss(1, "gout vs pseudogout"),))
    assert len(rank_mixups(base, {}, since=date(2027, 2, day))) == count
