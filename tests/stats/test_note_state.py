"""A note is judged by what happened to its questions after it was last written."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from kb.core.ids import AreaId, AttemptId, NoteId, Outcome, QuestionId
from kb.core.model import Attempt, Base, Dismissal, Heading, Note
from kb.core.settings import Area, Exam, Study
from kb.services.session import Session
from kb.stats.marks_at_risk import Risk
from kb.stats.note_state import Judged, evidence_of, judge, open_misses

TODAY = date(2027, 2, 14)
WRITTEN = date(2027, 1, 10)
EXAM = Exam(
    name="The Quill Examination",
    date=date(2027, 5, 11),
    areas=(
        Area(id=AreaId("heart"), name="Heart", item_count=80),
        Area(id=AreaId("kidney"), name="Kidney", item_count=20),
        Area(id=AreaId("skin"), name="Skin", item_count=10),
    ),
)


def answer(question: str, day: int, outcome: Outcome = "wrong", area: str = "heart") -> Attempt:
    """One answer at noon, `day` days after the note was written."""
    at = datetime(2027, 1, 10, 12, tzinfo=UTC) + timedelta(days=day)
    return Attempt(
        id=AttemptId(f"{question}@{day}"),
        at=at,
        question=QuestionId(question),
        outcome=outcome,
        area=AreaId(area),
    )


def note(name: str, *questions: str, area: str = "heart", words: int = 60) -> Note:
    """A note on these questions."""
    return Note(
        id=NoteId(name),
        path=f"{area}/{name}.md",
        title=name,
        areas=(AreaId(area),),
        questions=tuple(QuestionId(q) for q in questions),
        written_on=WRITTEN,
        word_count=words,
    )


def base(notes: tuple[Note, ...], *attempts: Attempt) -> Base:
    """A base of these, attempts in order."""
    ordered = tuple(sorted(attempts, key=lambda a: (a.at, a.id)))
    return Base(exam=EXAM, study=Study(), notes=notes, attempts=ordered)


def only(*attempts: Attempt, words: int = 60, questions: tuple[str, ...] = ("q:1",)) -> Judged:
    """The judgement on one note."""
    (row,) = judge(base((note("n", *questions, words=words),), *attempts), TODAY)
    return row


@pytest.mark.parametrize(
    ("since", "wrong", "tried"),
    [([], 0, 0), (["wrong"], 1, 1), (["right", "wrong", "blank"], 2, 3), (["right"], 0, 1)],
)
def test_answers_since_are_counted(since: list[Outcome], wrong: int, tried: int) -> None:
    """A blank is a miss; the last of them, and the last miss, have their days."""
    rows = [answer("q:1", day, outcome) for day, outcome in enumerate(since, start=1)]
    found = only(answer("q:1", -9), *rows)
    assert (found.wrong_count, found.tried_count) == (wrong, tried)
    assert (found.ever_wrong_count, found.ever_tried_count) == (wrong + 1, tried + 1)
    assert found.last_day == WRITTEN + timedelta(days=tried or -9)
    assert found.last_outcome == (since[-1] if since else "wrong")
    last = max((n for n, one in enumerate(since, start=1) if one != "right"), default=-9)
    assert found.last_miss_day == WRITTEN + timedelta(days=last)


@pytest.mark.parametrize(
    ("since", "state"),
    [
        ([], "untested"),
        (["right"], "holding"),
        (["wrong"], "failing"),
        (["blank"], "failing"),
        (["right", "wrong"], "failing"),
        (["wrong", "right"], "failing"),
        (["wrong", "right", "right"], "holding"),
        (["wrong", "right", "right", "wrong"], "failing"),
    ],
)
def test_the_state_follows_from_the_answers_since(since: list[Outcome], state: str) -> None:
    """A miss since written is only settled by two right answers in a row."""
    rows = [answer("q:1", -3), *(answer("q:1", 1 + i, how) for i, how in enumerate(since))]
    found = only(*rows)
    assert found.state == state
    assert found.wrong_count == sum(how != "right" for how in since)


def test_the_miss_it_was_written_for_does_not_count_against_it() -> None:
    """An answer of the same day counts as earlier when the note has no clock time."""
    assert only(answer("q:1", 0)).state == "untested"


def test_a_note_fails_as_of_the_last_miss_that_is_not_settled() -> None:
    """Of two of its questions; a later one that came right twice since does not count."""
    questions = ("q:1", "q:2", "q:3")
    rows = [answer("q:1", 2), answer("q:2", 5), answer("q:3", 7)]
    rows += [answer("q:3", 8, "right"), answer("q:3", 9, "right")]
    assert only(*rows, questions=questions).unsettled_day == WRITTEN + timedelta(days=5)
    assert only(answer("q:1", 3, "right")).unsettled_day is None


def test_notes_whose_last_answers_were_all_right_come_last() -> None:
    """Of four: three right answers do not make a note so, nor do four of which one was wrong."""

    def rows(name: str, *outcomes: Outcome) -> list[Attempt]:
        return [answer(f"q:{name}", 1 + day, how) for day, how in enumerate(outcomes)]

    attempts = [
        *rows("four", "wrong", "right", "right", "right", "right"),
        *rows("three", "right", "right", "right"),
        *rows("wrong", "wrong", "right", "right", "right"),
    ]
    notes = tuple(note(name, f"q:{name}") for name in ("four", "three", "wrong"))
    assert judge(base(notes, *attempts), TODAY)[-1].note == "four"


def test_one_question_missed_is_enough() -> None:
    """A note whose other question came right is failing all the same."""
    rows = (answer("q:1", 2, "right"), answer("q:2", 3, "wrong"))
    assert only(*rows, questions=("q:1", "q:2")).state == "failing"


def test_what_to_do_follows_stated_rules() -> None:
    """Rewrite what failed; split what is long or many-sided; try the untried; else leave it."""
    missed, right = answer("q:1", 1), answer("q:1", 30, "right")
    assert only(missed).advice == "rewrite"
    assert only(missed, words=500).advice == "split"
    many = ("q:1", "q:2", "q:3", "q:4")
    mixed = (missed, answer("q:2", 2, "right"))
    assert only(*mixed, questions=many, words=250).advice == "split"
    assert only(*mixed, questions=many).advice == "rewrite"
    rows = [replace(note("n", *many), table_row_count=count) for count in (3, 4)]
    found = [judge(base((row,), *mixed), TODAY)[0].advice for row in rows]
    assert found == ["rewrite", "split"]
    assert only(answer("q:1", -1)).advice == "re-attempt"
    assert only(right, answer("q:1", 31, "right"), answer("q:1", 32, "right")).advice == "leave"
    assert only(questions=()).advice == "leave"


@pytest.mark.parametrize(
    ("written", "advice"), [(TODAY, "wait"), (date(2027, 2, 13), "re-attempt")]
)
def test_a_note_written_today_waits_until_tomorrow(written: date, advice: str) -> None:
    """Trying at once would only test recognition."""
    fresh = replace(note("n", "q:1"), written_on=written)
    (row,) = judge(base((fresh,), answer("q:1", 5)), TODAY)
    assert row.advice == advice


def test_the_evidence_is_one_plain_sentence() -> None:
    """How often missed since it was written, how many of the last few, and when last tried."""
    rows = [answer("q:1", d, o) for d, o in ((-9, "wrong"), (3, "right"), (20, "wrong"))]
    assert (
        only(*rows).evidence == "missed once since you wrote it, 2 of the last 3; last tried 30 Jan"
    )
    assert (
        only(answer("q:1", 3, "right")).evidence
        == "right 1 of 1 since you wrote it; last tried 13 Jan"
    )
    assert only().evidence == "none of its questions has been tried"
    earlier = "before you wrote it, not tried since; last tried"
    assert only(answer("q:1", -9)).evidence == f"missed once {earlier} 1 Jan"
    assert only(answer("q:1", -9, "right")).evidence == f"never missed {earlier} 1 Jan"


def test_a_question_of_two_notes_counts_half_for_each() -> None:
    """In the order of work as in marks: a note that shares it is half as urgent."""
    missed = answer("q:1", 2)
    (alone,) = judge(base((note("n", "q:1"),), missed), TODAY)
    pair = judge(base((note("n", "q:1"), note("m", "q:1")), missed), TODAY)
    assert [row.urgency for row in pair] == pytest.approx([alone.urgency / 2] * 2)
    assert alone.urgency > 0


def test_a_failing_note_whose_last_answers_were_right_says_which_miss_is_open() -> None:
    """Otherwise it would read "missed once, 0 of the last 4"."""
    later = [answer("q:2", day, "right") for day in range(11, 15)]
    found = only(answer("q:1", 10), *later, questions=("q:1", "q:2"))
    assert found.evidence == (
        "the last 4 all right, but the one you missed on 20 Jan not yet twice in a row;"
        " missed once since you wrote it"
    )


def test_an_area_with_no_question_met_is_a_risk_too() -> None:
    """Most marks first; an area without items is none."""
    risk = Risk(base((), answer("q:1", 1)), TODAY)
    rows = risk.untouched()
    assert [row.area.id for row in rows] == ["kidney", "skin"]
    assert rows[0].marks == pytest.approx(20 * (1 - risk.chance("kidney")))


def test_equal_notes_stand_in_order_of_their_id() -> None:
    """The same every time, whatever order they were read in."""
    attempts = [answer("q:1", 1), answer("q:2", 1)]
    notes = (note("b", "q:1", "q:2"), note("a", "q:1", "q:2"))
    for some in (notes, notes[::-1]):
        assert [row.note for row in judge(base(some, *attempts), TODAY)] == ["a", "b"]


def test_unrelated_notes_do_not_change_the_order() -> None:
    """Notes of another area leave the order of the others alone."""
    attempts = [answer(f"q:{i}", i, "wrong" if i % 3 else "right") for i in range(1, 12)]
    attempts += [answer(f"k:{i}", i, "wrong", "kidney") for i in range(1, 5)]
    notes = tuple(note(f"n{i}", f"q:{i}", f"q:{i + 1}") for i in range(1, 10))
    more = (*notes, note("other", "k:1", area="kidney"))
    alone = [row.note for row in judge(base(notes, *attempts), TODAY)]
    among = [row.note for row in judge(base(more, *attempts), TODAY) if row.note != "other"]
    assert among == alone


def test_an_open_miss_is_a_last_answer_missed_without_a_note() -> None:
    """Not one that came right since, has a note, or was set aside."""
    here = base(
        (note("n", "q:4"),),
        answer("q:1", 1, "wrong"),
        answer("q:2", 1, "wrong"),
        answer("q:2", 2, "right"),
        answer("q:3", 1, "blank"),
        answer("q:4", 1, "wrong"),
        answer("q:5", 1, "wrong"),
    )
    aside = Dismissal(at=datetime(2027, 1, 12, tzinfo=UTC), question=QuestionId("q:5"), reason="x")
    here = replace(here, dismissals=(aside,))
    assert {row.question for row in open_misses(here, TODAY)} == {"q:1", "q:3"}


def test_a_miss_set_aside_comes_back_when_missed_again() -> None:
    """For good means for what was known then."""
    aside = Dismissal(at=datetime(2027, 1, 12, tzinfo=UTC), question=QuestionId("q:1"), reason="x")
    here = replace(base((), answer("q:1", 1), answer("q:1", 9)), dismissals=(aside,))
    (row,) = open_misses(here, TODAY)
    assert row.miss_count == 2
    assert row.attempt.day == date(2027, 1, 19)


def test_open_misses_stand_by_marks_at_risk_then_reference() -> None:
    """The costly area first; equals in order of the reference."""
    rows = [answer("b:2", 1), answer("b:1", 1), answer("k:1", 1, "wrong", "kidney")]
    rows += [answer(f"k:{i}", 1, "right", "kidney") for i in range(2, 9)]
    assert [row.question for row in open_misses(base((), *rows), TODAY)] == ["b:1", "b:2", "k:1"]


@pytest.mark.parametrize(
    ("day", "rights", "state"),
    [(-3, 0, "holding"), (5, 0, "failing"), (5, 1, "failing"), (5, 2, "holding")],
)
def test_a_note_whose_pair_is_mixed_up_again_is_failing(day: int, rights: int, state: str) -> None:
    """By a miss of another question, until that one was right twice in a row."""
    own = replace(note("n", "q:1"), title="Gout or pseudogout?", concepts=("gout", "pseudogout"))
    miss = replace(answer("q:9", day), remark="Pseudogout vs gout")
    later = [answer("q:9", 6 + n, "right") for n in range(rights)]
    attempts = [answer("q:1", 2, "right"), answer("q:1", 3, "right"), miss, *later]
    (row,) = judge(base((own,), *attempts), TODAY)
    assert row.state == state


@pytest.mark.parametrize(("miss_fraction", "advice"), [(0.49, "leave"), (0.51, "re-attempt")])
def test_a_holding_note_is_doubted_when_a_miss_is_likelier_than_not(
    miss_fraction: float, advice: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From one half on."""
    monkeypatch.setattr(Risk, "of_groups", lambda *_: ([0.0], [0.0], [miss_fraction]))
    found = only(answer("q:1", 1, "right"), answer("q:1", 2, "right"))
    assert (found.state, found.advice) == ("holding", advice)


@pytest.mark.parametrize(("day", "count"), [(3, 0), (4, 0), (2, 1)])
def test_a_miss_set_aside_on_its_own_day_stays_aside(day: int, count: int) -> None:
    """Only a miss on a later day brings it back."""
    at = datetime(2027, 1, 10, 9, tzinfo=UTC) + timedelta(days=day)
    aside = Dismissal(question=QuestionId("q:1"), reason="misread", at=at)
    assert (
        len(open_misses(replace(base((), answer("q:1", 3)), dismissals=(aside,)), TODAY)) == count
    )


@pytest.mark.parametrize(
    ("words", "questions", "tried", "headings", "advice"),
    [
        (400, 1, 1, 0, "rewrite"),
        (401, 1, 1, 0, "split"),
        (200, 4, 2, 0, "rewrite"),
        (201, 4, 2, 0, "split"),
        (201, 3, 2, 0, "rewrite"),
        (201, 4, 1, 0, "rewrite"),
        (60, 4, 2, 1, "rewrite"),
        (60, 4, 2, 2, "split"),
    ],
)
def test_a_note_is_split_above_its_limits_only(
    words: int, questions: int, tried: int, headings: int, advice: str
) -> None:
    """More than 400 words; or more than 200, or two headings, for four questions of which some
    were right. One question missed, the second right where two were tried.
    """
    own = note("n", *[f"q:{n}" for n in range(questions)], words=words)
    own = replace(own, headings=(Heading(text="H", level=2, line=1),) * headings)
    rows = [answer("q:0", 1), answer("q:1", 2, "right")][:tried]
    (row,) = judge(base((own,), *rows), TODAY)
    assert row.advice == advice


def test_a_note_without_questions_has_nothing_to_miss() -> None:
    """It is neither likely to be missed nor at risk, and is left alone."""
    found = only(questions=())
    assert (found.state, found.miss_fraction, found.marks) == ("untested", 0.0, 0.0)
    assert found.advice == "leave"


def test_a_search_shows_the_state_and_evidence_of_the_judgement(demo: Session) -> None:
    """Every note of the demo, though nothing at risk is worked out for it."""
    judged = judge(demo.base, demo.today)
    shown = evidence_of(demo.base, demo.today)
    assert shown == {row.note: (row.state, row.evidence) for row in judged}
