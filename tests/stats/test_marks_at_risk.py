"""Marks at risk are exam marks, shared out over all that the exam can ask."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from scipy.special import expit, logit

from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId
from kb.core.model import Attempt, Base, Note
from kb.core.settings import Area, Exam, ItemRange, Source, Study
from kb.stats.history import history_of, noon_number
from kb.stats.marks_at_risk import Risk
from kb.stats.note_state import judge
from kb.stats.question_record import record_chances
from kb.stats.recall_model import Recall

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


def missed_once(risk: Risk) -> float:
    """The chance of missing north:9 again, the tenth of forty answers: by the level then, which
    was 31/40 of the rise below today's. The record itself is tested beside its module.
    """
    gain = risk.ability.rise * 31 / 40
    usual = expit(logit(risk.chance("a")) - gain)
    record = record_chances(*np.array([[0], [0], [0]]), np.array([usual]))[0]
    return float(1 - expit(logit(record) + gain))


def test_an_early_miss_counts_less_for_a_learner_who_rose() -> None:
    """Missed once each, at the same level today: the first of 600 answers, and the last."""
    rows = answers(600)
    wrong = {0: "wrong", 599: "wrong"}
    rows = tuple(
        replace(a, outcome=wrong.get(n, "right" if n > n * 7 % 600 or n % 8 == 0 else "wrong"))
        for n, a in enumerate(rows)
    )
    risk = Risk(base_of(rows, 6000), TODAY)
    assert risk.ability.rise > 0.3
    assert risk.marks(QuestionId("north:0")) < 0.95 * risk.marks(QuestionId("north:599"))


def test_a_paper_is_part_of_what_the_exam_can_ask() -> None:
    """A bank of 600 and a paper of 300, two thirds of each area A: 20 items of 400 + 200."""
    base = base_of(answers(40))
    paper = Source(id="p", name="P", kind="paper", item_count=300)
    more = replace(base, study=replace(base.study, sources=(*base.study.sources, paper)))
    worth = [Risk(b, TODAY).marks(QuestionId("north:9")) for b in (base, more)]
    assert worth[1] / worth[0] == pytest.approx(400 / 600)


def test_a_miss_is_worth_its_part_of_what_the_bank_declares() -> None:
    """400 declared in A for 20 items: .05 items each, times the chance of missing it again."""
    risk = Risk(base_of(answers(40)), TODAY)
    assert risk.marks(QuestionId("north:9")) == pytest.approx(0.05 * missed_once(risk))


def test_a_small_bank_stands_for_ten_questions_an_item() -> None:
    """30 declared in A, 40 met: the exam can still ask 200."""
    risk = Risk(base_of(answers(40), items=45), TODAY)
    assert risk.marks(QuestionId("north:9")) == pytest.approx(20 / 200 * missed_once(risk))


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


def test_a_question_is_of_the_area_that_its_answers_name_or_else_its_first_note() -> None:
    """An unanswered one, one answered in area A, and one of which nothing is known."""
    questions = (QuestionId("west:1"), QuestionId("north:0"))
    notes = tuple(
        Note(id=NoteId(name), path=f"{name}.md", title=name, areas=areas, questions=questions)
        for name, areas in (("none", ()), ("first", (B, A)), ("second", (A,)))
    )
    risk = Risk(base_of(answers(40), 600, *notes), TODAY)
    assert [risk.area(q) for q in (*questions, QuestionId("west:2"))] == ["b", "a", ""]


def test_a_question_of_two_notes_counts_once_in_all() -> None:
    """Each note has half of it."""
    notes = [
        Note(id=NoteId(n), path=f"{n}.md", title=n, areas=(A,), questions=(QuestionId("north:9"),))
        for n in ("x", "y")
    ]
    base = base_of(answers(40), 600, *notes)
    risk = Risk(base, TODAY)
    rows = judge(base, TODAY)
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
    assert after == pytest.approx(before, rel=0.15)


def test_the_likely_range_of_a_standing_holds_it_with_a_chance_of_eighty() -> None:
    """From the 10th to the 90th centile of the log odds. Reference: scipy's normal distribution."""
    from scipy.special import expit
    from scipy.stats import norm

    risk = Risk(base_of(answers(60)), TODAY)
    row = next(row for row in risk.area_standings() if row.area.id == A)
    belief = norm(risk.ability.mean[0], risk.ability.covariance[0, 0] ** 0.5)
    ends = expit(belief.ppf([0.1, 0.9]))
    assert (row.likely.low, row.likely.high) == pytest.approx(tuple(ends), abs=1e-5)


def test_a_miss_in_a_harder_bank_is_likelier_again() -> None:
    """Papers right at 80%, one bank at 80% and another at 40%, one area: a miss of the harder one.

    Its record is judged by what is usual in its bank, so it comes first and is worth more.
    """
    attempts = []
    for source, of_ten in (("north", 8), ("harbour", 4), ("paper-1", 8)):
        for n in range(100):
            attempts.append(
                Attempt(
                    id=AttemptId(f"{source}{n:03}"),
                    at=datetime(2027, 1, 1, 8, tzinfo=UTC) + timedelta(hours=len(attempts)),
                    question=QuestionId(f"{source}:{n}"),
                    outcome="right" if n * 3 % 10 < of_ten else "wrong",
                    area=A,
                )
            )
    sources = (
        Source(id="north", name="North", item_count=100),
        Source(id="harbour", name="Harbour", item_count=100),
        Source(id="paper-1", name="Paper", kind="paper", item_count=100),
    )
    risk = Risk(Base(exam=EXAM, study=Study(sources=sources), attempts=tuple(attempts)), TODAY)
    easy, hard = (QuestionId(f"{source}:3") for source in ("north", "harbour"))
    assert risk.miss_fraction(hard) > risk.miss_fraction(easy) + 0.05
    assert risk.marks(hard) > 1.1 * risk.marks(easy)


def test_a_standing_counts_the_answers_of_its_area() -> None:
    """28 right and 12 wrong of 40 in A, none in B; A has 20 of the exam's 30 items."""
    risk = Risk(base_of(answers(40)), TODAY)
    rows = {row.area.id: row for row in risk.area_standings()}
    assert (rows[A].right_count, rows[A].tried_count) == (28, 40)
    assert (rows[B].right_count, rows[B].tried_count) == (0, 0)
    assert [rows[area].exam_fraction for area in (A, B)] == pytest.approx([2 / 3, 1 / 3])
    assert rows[A].marks == pytest.approx(20 * (1 - risk.chance("a")))
    assert [row.area.id for row in risk.untouched()] == [B]


def test_a_question_outside_the_blueprint_is_worth_nothing() -> None:
    """Nor is one of an area without items."""
    outside = tuple(replace(a, area=AreaId("c")) for a in answers(40)[30:])
    exam = replace(EXAM, areas=(*EXAM.areas, Area(id=AreaId("c"), name="C", item_count=0)))
    for own in (EXAM, exam):
        risk = Risk(replace(base_of((*answers(40)[:30], *outside)), exam=own), TODAY)
        assert risk.marks(QuestionId("north:39")) == risk.urgency(QuestionId("north:39")) == 0
        assert risk.marks(QuestionId("north:9")) > 0
        assert risk.marks(QuestionId("north:777")) == 0


def test_a_question_not_known_at_all_is_missed_as_any_new_one() -> None:
    """By the chance in no area in particular."""
    risk = Risk(base_of(answers(40)), TODAY)
    assert risk.miss_fraction(QuestionId("south:1")) == pytest.approx(1 - risk.chance(""))
    assert risk.of_groups([[QuestionId("south:1")]])[2] == [1 - risk.chance("")]


def test_a_miss_is_as_likely_as_recall_and_record_say_together() -> None:
    """Half way between the two on the log odds; the order of work is that chance times the items
    that a question stands for, 20 of 400.
    """
    base = base_of(answers(40))
    risk, missed = Risk(base, TODAY), QuestionId("north:9")
    recall = Recall(history_of(base.attempts))
    recalled = recall.of_questions(np.array([9]), (np.array([0]), ["a"]), noon_number(TODAY))[0]
    both = (logit(recalled) + logit(1 - missed_once(risk))) / 2
    assert risk.miss_fraction(missed) == pytest.approx(1 - expit(both))
    assert risk.urgency(missed) == pytest.approx(0.05 * risk.miss_fraction(missed))


def test_a_record_holds_every_answer_to_a_question() -> None:
    """Missed as the tenth of 42 answers, then right and missed again at the end: one of each after
    the first, by the level of the three moments, 36/126 of the rise below today's.
    """
    again = tuple(
        Attempt(
            id=AttemptId(f"again {n}"),
            at=START + timedelta(hours=50 + n),
            question=QuestionId("north:9"),
            outcome=outcome,  # type: ignore[arg-type]
            area=A,
        )
        for n, outcome in enumerate(("right", "wrong"))
    )
    base = base_of((*answers(40), *again))
    risk, question = Risk(base, TODAY), QuestionId("north:9")
    gain = risk.ability.rise * 36 / 126
    usual = np.array([expit(logit(risk.chance("a")) - gain)])
    record = record_chances(np.array([0]), np.array([1]), np.array([1]), usual)[0]
    recall = Recall(history_of(base.attempts))
    recalled = recall.of_questions(np.array([9]), (np.array([0]), ["a"]), noon_number(TODAY))[0]
    both = expit((logit(recalled) + logit(record) + gain) / 2)
    assert risk.miss_fraction(question) == pytest.approx(1 - both)


def test_an_exam_of_one_item_asks_one_of_all_that_its_bank_declares() -> None:
    """Forty questions without areas for one item: each stands for a fortieth of it."""
    exam = replace(EXAM, areas=(Area(id=A, name="A", item_count=1),))
    study = Study(sources=(Source(id="north", name="North", item_count=40),))
    risk = Risk(Base(exam=exam, study=study, attempts=answers(30)), TODAY)
    question = QuestionId("north:9")
    assert risk.urgency(question) == pytest.approx(risk.miss_fraction(question) / 40)
