"""Marks at risk are exam marks, shared out over all that the exam can ask."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId
from kb.core.model import Attempt, Base, Note
from kb.core.settings import Area, Exam, ItemRange, Source, Study
from kb.stats.marks_at_risk import Risk
from kb.stats.note_state import judge

START = datetime(2027, 1, 1, 8, tzinfo=UTC)
TODAY = date(2027, 2, 1)
A, B = AreaId("a"), AreaId("b")
EXAM = Exam(
    name="E",
    date=date(2027, 6, 1),
    areas=(Area(id=A, name="A", item_count=20), Area(id=B, name="B", item_count=10)),
)


def answers(count: int, wrong: int = 3) -> tuple[Attempt, ...]:
    """So many questions of area A, the last `wrong` of every ten missed."""
    return tuple(
        Attempt(
            id=AttemptId(str(n)),
            at=START + timedelta(hours=n),
            question=QuestionId(f"north:{n}"),
            outcome="wrong" if n % 10 >= 10 - wrong else "right",
            area=A,
        )
        for n in range(count)
    )


def base_of(attempts: tuple[Attempt, ...], items: int = 600, *notes: Note) -> Base:
    """A bank of which two thirds are area A."""
    ranges = (
        ItemRange(first=1, last=items * 2 // 3, area=A),
        ItemRange(first=items * 2 // 3 + 1, last=items, area=B),
    )
    bank = Source(id="north", name="North", item_count=items, ranges=ranges)
    return Base(exam=EXAM, study=Study(sources=(bank,)), attempts=attempts, notes=notes)


def test_a_miss_is_worth_its_part_of_what_the_bank_declares() -> None:
    """400 declared in A for 20 items: .05 items each, times 1 - 2 p / 3 after one miss.

    Worked by hand: the record of one miss at a standing p is 2 p / (1 + 2).
    """
    risk = Risk(base_of(answers(40)), TODAY)
    p = risk.chance("a")
    assert risk.marks(QuestionId("north:9")) == pytest.approx(0.05 * (1 - 2 * p / 3))


def test_a_small_bank_stands_for_ten_questions_an_item() -> None:
    """30 declared in A, 40 met: the exam can still ask 200."""
    risk = Risk(base_of(answers(40), items=45), TODAY)
    p = risk.chance("a")
    assert risk.marks(QuestionId("north:9")) == pytest.approx(20 / 200 * (1 - 2 * p / 3))


@pytest.mark.parametrize(("count", "speaks"), [(29, False), (30, True)])
def test_nothing_is_said_in_marks_before_thirty_answers(count: int, speaks: bool) -> None:
    """The order of work is there all the same."""
    risk = Risk(base_of(answers(count)), TODAY)
    assert (risk.marks(QuestionId("north:9")) > 0) is speaks
    assert risk.urgency(QuestionId("north:9")) > 0


def test_all_of_an_area_never_exceeds_the_areas_own_marks() -> None:
    """Every question of the bank missed, most of them more than the standing has it."""
    risk = Risk(base_of(answers(300, wrong=9), items=300), TODAY)
    total = sum(risk.marks(a.question) for a in answers(300))
    own = next(row.marks for row in risk.area_standings() if row.area.id == A)
    assert total <= own + 1e-9


def test_a_question_of_two_notes_counts_once_in_all() -> None:
    """Each note has half of it."""
    notes = [
        Note(id=NoteId(n), path=f"{n}.md", title=n, areas=(A,), questions=(QuestionId("north:9"),))
        for n in ("x", "y")
    ]
    base = base_of(answers(40), 600, *notes)
    risk = Risk(base, TODAY)
    rows = judge(base, TODAY, risk)
    assert [row.marks for row in rows] == pytest.approx([risk.marks(QuestionId("north:9")) / 2] * 2)


def test_a_good_block_elsewhere_hardly_moves_a_notes_worth() -> None:
    """Thirty-one right answers more change what a miss is worth by less than a tenth."""
    before = Risk(base_of(answers(200)), TODAY).marks(QuestionId("north:9"))
    more = tuple(
        Attempt(
            id=AttemptId(f"m{n}"),
            at=START + timedelta(days=20, hours=n),
            question=QuestionId(f"north:{300 + n}"),
            outcome="right",
            area=A,
        )
        for n in range(31)
    )
    after = Risk(base_of((*answers(200), *more)), TODAY).marks(QuestionId("north:9"))
    assert after == pytest.approx(before, rel=0.1)


def test_the_likely_range_of_a_standing_holds_it_with_a_chance_of_eighty() -> None:
    """From the 10th to the 90th centile of the log odds. Reference: scipy's normal distribution."""
    from scipy.special import expit
    from scipy.stats import norm

    risk = Risk(base_of(answers(60)), TODAY)
    row = next(row for row in risk.area_standings() if row.area.id == A)
    belief = norm(risk.ability.mean[0], risk.ability.covariance[0, 0] ** 0.5)
    ends = expit(belief.ppf([0.1, 0.9]))
    assert (row.likely.low, row.likely.high) == pytest.approx(tuple(ends), abs=1e-5)
