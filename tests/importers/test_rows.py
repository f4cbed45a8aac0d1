"""Rows of a table, cell by cell; and what an import changes."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from kb.core.ids import AreaId, AttemptId, QuestionId
from kb.core.model import Attempt
from kb.core.settings import Area, Exam, Source, Study
from kb.importers.column_mapping import guess_columns
from kb.importers.reconcile import compare
from kb.importers.sheets import known_words
from kb.importers.table_reader import read_table
from kb.importers.table_rows import TableAnswers, TableRows

EXAM = Exam(
    name="E",
    date=date(2027, 5, 11),
    areas=(Area(id=AreaId("cardiology"), name="Heart", item_count=200),),
)
STUDY = Study(
    timezone="Europe/London",
    sources=(Source(id="north", name="North"), Source(id="paper-1", name="P", kind="paper")),
)
TODAY, DAY = date(2027, 7, 14), date(2027, 7, 10)


def take(text: str, source: str = "north", *, no_patient: bool = False) -> TableAnswers:
    """The rows of a CSV text, its columns guessed."""
    grid = read_table(text.encode(), "bank.csv")
    return TableRows(
        grid=grid,
        columns=guess_columns(grid.header, [row.cells for row in grid.rows]),
        exam=EXAM,
        study=STUDY,
        source=source,
        today=TODAY,
        day=DAY,
        no_patient=no_patient,
    ).answers()


def said(taken: TableAnswers) -> list[tuple[str, str, int]]:
    """Code, message and line of each problem."""
    return [(p.code, p.message, p.place.line) for p in taken.problems]


def test_a_row_without_day_or_time_lies_at_noon_of_the_day_given() -> None:
    """On the doctor's clock, each a second before the next; no time of day is claimed."""
    taken = take("item,result\n1,right\n2,wrong\n3,right\n")
    assert [draft.at.isoformat() for draft in taken.drafts] == [
        "2027-07-10T11:59:58+01:00",
        "2027-07-10T11:59:59+01:00",
        "2027-07-10T12:00:00+01:00",
    ]
    assert not taken.timed


def test_a_time_in_its_own_column_or_beside_the_day() -> None:
    """The one beside the day goes first; one not understood is told, and the row is logged."""
    text = "item,result,date,time\n1,right,2027-07-09,9 am\n2,right,2027-07-09 10:00,9 am\n"
    taken = take(text + "3,right,2027-07-09,soon\n4,right,2027-07-09T23:30Z,\n")
    assert [draft.at.isoformat() for draft in taken.drafts] == [
        "2027-07-09T09:00:00+01:00",
        "2027-07-09T10:00:00+01:00",
        "2027-07-09T12:00:00+01:00",
        "2027-07-10T00:30:00+01:00",
    ]
    assert taken.timed
    assert said(taken) == [("bad-time", "'soon' is not a time of day; logged without it", 4)]


@pytest.mark.parametrize(
    ("day", "code"),
    [
        ("2027-07-14", ""),
        ("2027-07-15", "future-date"),
        ("1990-01-01", ""),
        ("1989-12-31", "bad-date"),
        ("soon", "bad-date"),
    ],
)
def test_a_day_lies_in_the_time_of_a_log(day: str, code: str) -> None:
    """From 1990 to today."""
    taken = take(f"item,result,date\n1,right,{day}\n")
    assert [problem[0] for problem in said(taken)] == ([code] if code else [])
    assert len(taken.drafts) == (not code)


@pytest.mark.parametrize(
    ("item", "source", "question"),
    [
        ("7", "", "north:7"),
        ("Q7", "", "north:7"),
        ("No. 7", "", "north:7"),
        ("#7", "", "north:7"),
        ("item 7", "", "north:7"),
        ("b 12", "", "north:b-12"),
        ("7", "Paper 1", "paper-1:7"),
        ("harbour:9", "", "harbour:9"),
        ("x" * 54, "", "north:" + "x" * 54),
        ("x" * 55, "", ""),
    ],
)
def test_a_question_is_named_by_its_number(item: str, source: str, question: str) -> None:
    """With the source of its row, or of the table; sixty characters at most."""
    taken = take(f"item,result,source\n{item},right,{source}\n")
    assert [draft.question for draft in taken.drafts] == ([question] if question else [])
    if not question:
        assert said(taken)[0][:2] == (
            "bad-question",
            f"'{'x' * 40}' is not a question number; left out",
        )


def test_a_row_needs_a_source() -> None:
    """From somewhere."""
    assert said(take("item,result\n7,right\n", "")) == [
        ("no-source", "'7' has no source; left out", 2)
    ]


def test_a_paper_is_a_sitting_and_a_sitting_that_is_named_goes_first() -> None:
    """The round of a bank is as the row says."""
    text = "item,result,source,round,sitting\n1,right,paper-1,,\n2,right,paper-1,,may\n"
    taken = take(text + "3,right,north,Second,\n4,right,north,third,\n")
    assert [(d.round, d.sitting) for d in taken.drafts] == [
        ("paper", "paper-1"),
        ("paper", "may"),
        ("second", ""),
        ("", ""),
    ]


@pytest.mark.parametrize(
    ("head", "row", "outcome", "code"),
    [
        ("item,result", "1,yes", "right", ""),
        ("item,wrong", "1,yes", "wrong", ""),
        ("item,correct,wrong", "1,x,", "right", ""),
        ("item,correct,wrong", "1,,x", "wrong", ""),
        ("item,correct,wrong", "1,yes,no", "right", ""),
        ("item,correct,wrong", "1,yes,yes", "", "two-outcomes"),
        ("item,your answer,key", "1,B,B", "right", ""),
        ("item,your answer,key", "1,,B", "blank", ""),
        ("item,your answer,key,result", "1,C,B,wrong", "wrong", ""),
        ("item,your answer,key,result", "1,C,B,right", "", "two-outcomes"),
        ("item,your answer,key,result", "1,,B,right", "right", ""),
        ("item,your answer,key,result", "1,C,B,skipped", "blank", ""),
        ("item,your answer,key", "1,K,B", "", "bad-option"),
        ("item,your answer,key", "1,F,B", "", "bad-option"),
        ("item,your answer,key", "1,Gout,B", "", "bad-option"),
        ("item,result", "1,x", "", "bad-outcome"),
        ("item,result", "1,", "", "no-outcome"),
    ],
)
def test_the_outcome_follows_from_the_mark_or_from_option_and_key(
    head: str, row: str, outcome: str, code: str
) -> None:
    """They have to agree; a cross where there is nothing else may be either."""
    taken = take(f"{head}\n{row}\n")
    assert [draft.outcome for draft in taken.drafts] == ([outcome] if outcome else [])
    assert [problem[0] for problem in said(taken)] == ([code] if code else [])


def test_a_cross_beside_a_tick_is_wrong_and_a_dash_beside_a_plus_is_asked_about() -> None:
    """As the table itself shows."""
    crosses = take("item,result\n1,x\n2,\u2713\n")
    assert [draft.outcome for draft in crosses.drafts] == ["wrong", "right"]
    signs = take("item,result\n1,+\n2,-\n")
    assert [draft.question for draft in signs.drafts] == ["north:1"]
    assert said(signs)[0][0] == "bad-outcome"
    assert [draft.outcome for draft in take("item,result\n1,ok\n2,-\n").drafts] == [
        *("right", "blank")
    ]


def test_options_are_letters_or_up_to_sixty_characters_of_words() -> None:
    """Letters where all have one; else words as they are."""
    letters = take("item,your answer,key\n1,b) Gout,C\n2,c,C\n")
    assert [(d.chosen, d.key) for d in letters.drafts] == [("B", "C"), ("C", "C")]
    words = take(f"item,your answer,key\n1,{'g' * 70},Sepsis\n")
    assert [(d.chosen, d.key) for d in words.drafts] == [("g" * 60, "Sepsis")]


def test_what_may_be_a_patient_leaves_the_row_out() -> None:
    """In remark, concept and sitting, unless the person has confirmed that it is none."""
    head = "item,result,comment,topic,sitting\n"
    for cells in ("NHS 943 476 5919,,", ",NHS 943 476 5919,", ",,NHS 943 476 5919"):
        taken = take(f"{head}1,right,{cells}\n")
        assert [problem[0] for problem in said(taken)] == ["patient-identifier"]
        assert len(take(f"{head}1,right,{cells}\n", no_patient=True).drafts) == 1


def test_a_cell_not_understood_is_told_and_the_row_is_logged() -> None:
    """Certainty, seconds, reason and area; a row left out is kept with its separator."""
    head = "item;result;confidence;seconds;reason;area\n"
    taken = take(f"{head}1;right;very;long;late;Hart\n2;rihgt;1;;;\n")
    assert sorted(problem[0] for problem in said(taken)) == [
        *("bad-certainty", "bad-outcome", "bad-reason", "bad-seconds", "unknown-area")
    ]
    (draft,) = taken.drafts
    assert (draft.certainty, draft.seconds, draft.reason, draft.area) == (None, None, "", "")
    assert taken.left == ((3, "2;rihgt;1;;;"),)


def attempt(item: int, at: datetime, remark: str = "", **more: object) -> Attempt:
    """An answer."""
    return Attempt(
        id=AttemptId(str(item)),
        at=at,
        question=QuestionId(f"north:{item}"),
        outcome="wrong",
        remark=remark,
        **more,  # type: ignore[arg-type]
    )


NOON = datetime(2027, 1, 14, 12, tzinfo=UTC)


def test_what_the_log_has_is_known_by_its_content() -> None:
    """Not by its area, import or place, nor, where there are no times, by its hour."""
    own = attempt(1, NOON, area=AreaId("x"), batch="b")
    draft = attempt(1, NOON - timedelta(hours=2))
    assert compare([draft], [own], [draft], timed=False).known == (draft,)
    assert compare([draft], [own], [draft], timed=True).new == (draft,)
    other = attempt(1, NOON - timedelta(days=1))
    found = compare([other], [own], [other], timed=False)
    assert (found.new, found.same_day_count) == ((other,), 0)


def test_one_answer_of_a_minute_or_a_day_is_replaced() -> None:
    """Where there is one on either side; two in the log leave both as they are."""
    better = attempt(1, NOON + timedelta(seconds=40), "gout")
    logged = [attempt(1, NOON)]
    assert compare([better], logged, [better], timed=True).changed == ((logged[0], better),)
    late = attempt(1, NOON + timedelta(seconds=60), "gout")
    found = compare([late], logged, [late], timed=True)
    assert (found.new, found.same_day_count) == ((late,), 1)
    two = [attempt(1, NOON, "a"), attempt(1, NOON, "b")]
    found = compare([better], two, [better], timed=False)
    assert (found.changed, found.new) == ((), (better,))
    both = [two[0], better]
    found = compare(both, two, both, timed=False)
    assert (found.known, found.changed) == ((two[0],), ((two[1], better),))


def test_old_names_of_areas_and_sources_are_known() -> None:
    """A sheet may still have them."""
    study = Study(sources=STUDY.sources, former=(("heart-old", "cardiology"), ("south", "north")))
    known = known_words(EXAM, study, DAY)
    assert known.areas["heart-old"] == "cardiology"
    assert known.sources == ("north", "paper-1", "south")
    assert (known.day, known.today, known.no_patient) == (DAY, None, False)


def test_what_the_log_has_once_is_known_once() -> None:
    """Of two equal answers one is new where the log has one; where it has three, none is, and the
    one left over is not replaced by them.
    """
    one = attempt(1, NOON)
    found = compare([one, one], [one], [one, one], timed=False)
    assert (found.known, found.new, found.same_day_count) == ((one,), (one,), 1)
    found = compare([one, one], [one] * 3, [one, one], timed=False)
    assert (found.known, found.new, found.changed) == ((one, one), (), ())
    better = attempt(1, NOON, "gout")
    both = [one, better]
    found = compare(both, [one] * 3, both, timed=False)
    assert (found.known, found.new, found.changed) == ((one,), (better,), ())


def test_a_cross_alone_may_be_either_whatever_its_case() -> None:
    """X for right or x for wrong: nobody knows, so the row is left."""
    taken = take("item,result\n1,X\n2,x\n")
    assert taken.drafts == ()
    assert [problem[0] for problem in said(taken)] == ["bad-outcome", "bad-outcome"]


def test_a_long_option_is_cut_at_a_whole_word_or_in_one() -> None:
    """Sixty characters, without the space that may be the last of them."""
    taken = take(f"item,your answer,key\n1,{'g' * 59} gout,Sepsis\n2,{'g' * 60} gout,Sepsis\n")
    assert [draft.chosen for draft in taken.drafts] == ["g" * 59, "g" * 60]


def test_words_of_a_row_may_have_capitals() -> None:
    """Round, source, reason and certainty."""
    head = "item,result,round,source,reason,confidence"
    (draft,) = take(f"{head}\n1,Wrong,Second,NORTH,Misread,Sure\n", source="harbour").drafts
    assert (draft.round, draft.question, draft.reason, draft.certainty) == (
        *("second", "north:1", "misread", 3),
    )
