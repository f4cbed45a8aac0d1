"""What is still to be done, worked by hand from a log in memory."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId, Round
from kb.core.model import Attempt, Base, Note, Reading, Score
from kb.core.settings import Area, Exam, ItemRange, PlanSettings, Rota, Shift, Source, Study
from kb.planning.paper_days import PaperWork
from kb.planning.plan_records import Spent, Work
from kb.planning.workload import area_marks, papers_left, part_items, situation, worth_by_area

A, B = AreaId("a"), AreaId("b")
DAY = date(2027, 5, 11)
EXAM = Exam(
    name="Quill",
    date=DAY,
    areas=(Area(id=A, name="A", item_count=120), Area(id=B, name="B", item_count=80)),
)
PLAN = PlanSettings(seconds=60, review_seconds=120)
"""A minute a question and two for a wrong answer."""
NORTH = Source(id="north", name="North", item_count=600)
TODAY = date(2027, 3, 3)


def answer(
    number: int,
    day: date = TODAY,
    *,
    right: bool = True,
    seconds: float | None = None,
    source: str = "north",
    round_: Round = "",
) -> Attempt:
    """One answer at noon."""
    return Attempt(
        id=AttemptId(f"{source}{number}{day}"),
        at=datetime(day.year, day.month, day.day, 12, tzinfo=UTC),
        question=QuestionId(f"{source}:{number}"),
        outcome="right" if right else "wrong",
        seconds=seconds,
        round=round_,
    )


def sat(source: str, *items: int, day: date = TODAY) -> list[Attempt]:
    """These items of a paper, answered in it."""
    return [answer(n, day, source=source, round_="paper") for n in items]


def base(*attempts: Attempt, sources: tuple[Source, ...] = (NORTH,)) -> Base:
    """A base with these answers, nothing held back."""
    study = Study(sources=sources, plan=PLAN, held_back_count=0)
    return Base(exam=EXAM, study=study, attempts=attempts)


def paper(name: str = "p", items: int = 200) -> Source:
    """A paper under sources."""
    return Source(id=name, name=name.upper(), kind="paper", item_count=items)


def work(found: Base, today: date = TODAY) -> Work:
    """What is to be done, each area weighted by its items."""
    return situation(found, today, {A: 120.0, B: 80.0}).work


def test_a_note_with_a_question_missed_yesterday_fails() -> None:
    """One without a question does not."""
    missed = replace(answer(1, TODAY - timedelta(days=1), right=False), area=A)
    notes = tuple(
        Note(
            id=NoteId(name),
            path=f"{name}.md",
            title=name,
            areas=(A,),
            questions=questions,
            written_on=TODAY - timedelta(days=30),
        )
        for name, questions in (("fails", (missed.question,)), ("plain", ()))
    )
    found = situation(replace(base(missed), notes=notes), TODAY).work.notes
    assert [(note.note, note.failing) for note in found] == [("fails", True), ("plain", False)]


def test_marks_at_risk_are_items_times_the_chance_of_a_miss() -> None:
    """All of A right and all of B wrong: less than half of the items of A, more than half of B's,
    and never more than there are.
    """
    rows = [replace(answer(n), area=A) for n in range(1, 41)]
    rows += [replace(answer(n, right=False), area=B) for n in range(41, 81)]
    marks = area_marks(base(*rows))
    assert 0 < marks[A] < 60
    assert 40 < marks[B] < 80


def test_worth_of_a_question_is_its_share_of_the_marks_of_its_area() -> None:
    """By hand: 6 marks on two questions are 3; of unknown area, 8 on four are 2; no marks, 0."""
    bank = {QuestionId(f"q:{n}"): area for n, area in enumerate((A, A, B, AreaId("")))}
    assert worth_by_area(bank, {A: 6.0, AreaId("c"): 2.0}) == {A: 3.0, B: 0.0, "": 2.0}
    assert worth_by_area({QuestionId("q:1"): AreaId("")}, {A: 8.0}) == {"": 8.0}


def test_a_part_has_its_share_of_the_items() -> None:
    """200 in two papers are 100, and so are 201; a part is never empty."""
    assert part_items(base()) == 100
    odd = replace(EXAM, areas=(Area(id=A, name="A", item_count=201),))
    assert part_items(replace(base(), exam=odd)) == 100
    tiny = replace(EXAM, areas=(Area(id=A, name="A", item_count=1),))
    assert part_items(replace(base(), exam=tiny)) == 1


def test_a_mock_comes_after_all_papers() -> None:
    """However they are declared; each with its title, items, parts and time."""
    mock = replace(paper("m"), kind="mock")
    one, two = papers_left(base(sources=(mock, NORTH, paper(items=100))))
    assert one == PaperWork(
        name="p", title="P", items=100, parts=(1,), part_count=1, part_minutes=180
    )
    assert (two.name, two.parts, two.part_count, two.minutes) == ("m", (1, 2), 2, 360)


@pytest.mark.parametrize(("items", "parts"), [(30, 1), (149, 1), (160, 2), (251, 3)])
def test_a_paper_has_as_many_parts_as_fit_its_items_best(items: int, parts: int) -> None:
    """A part has a hundred items: 149 are nearest to one part, 160 to two, 251 to three."""
    (found,) = papers_left(base(sources=(paper(items=items),)))
    assert (found.part_count, len(found.parts)) == (parts, parts)


def test_a_paper_of_unknown_length_is_as_long_as_the_exam() -> None:
    """200 items; once anything of it was answered, nobody can say what is left."""
    unknown = (paper(items=0),)
    (found,) = papers_left(base(sources=unknown))
    assert (found.items, found.parts) == (200, (1, 2))
    assert papers_left(base(*sat("p", 1), sources=unknown)) == ()


def test_a_part_ends_with_its_hundredth_item() -> None:
    """Fifty of items 51 to 100 are half of part 1, fifty of 101 to 150 half of part 2; 49 are too
    few, and the same items again make no more.
    """
    sources = (paper(),)
    assert papers_left(base(*sat("p", *range(51, 101)), sources=sources))[0].parts == (2,)
    assert papers_left(base(*sat("p", *range(101, 151)), sources=sources))[0].parts == (1,)
    few = sat("p", *range(1, 50))
    assert papers_left(base(*few, *few, sources=sources))[0].parts == (1, 2)


def test_a_paper_with_a_score_was_sat() -> None:
    """A score alone is enough, and after one no baseline is wanted."""
    score = Score(
        id="s",
        at=datetime(2027, 3, 1, tzinfo=UTC),
        sitting="p",
        area=AreaId(""),
        right_count=60,
        item_count=100,
        official=True,
    )
    found = base(sources=(paper(), paper("r")))
    assert work(found).baseline
    assert [one.name for one in papers_left(replace(found, scores=(score,)))] == ["r"]
    assert not work(replace(found, scores=(score,))).baseline
    assert not work(replace(found, attempts=tuple(sat("p", 1)))).baseline


def test_minutes_of_today_are_counted_by_kind() -> None:
    """By hand: a new question right is 60 s and wrong 60 + 120 s, so 4 minutes; one missed before,
    wrong again in 90 s and 120 s of review, 3.5; two of a paper without review, 2; reading, 5.
    """
    yesterday = TODAY - timedelta(days=1)
    rows = [
        answer(1, yesterday, right=False),
        answer(2, yesterday),
        answer(3),
        answer(4, right=False),
        answer(1, right=False, seconds=90),
        replace(answer(1, source="p"), outcome="wrong"),
        answer(2, source="p", seconds=60),
    ]
    readings = tuple(
        Reading(id=f"r{n}", at=datetime(2027, 3, day, 9, tzinfo=UTC), note=NoteId("n"), seconds=s)
        for n, (day, s) in enumerate([(2, 600.0), (3, 300.0), (3, None)])
    )
    found = replace(base(*rows, sources=(NORTH, paper())), readings=readings)
    spent = work(found).spent
    assert spent == Spent(notes=5, missed=3.5, other=4, paper=2)
    assert spent.minutes == 14.5


def test_a_retry_that_was_not_timed_takes_as_long_as_retries_do() -> None:
    """Twenty new questions took 90 s each and were missed, and 30 s when they came right: one of
    them today is half a minute of retries, and a new one a minute and a half.
    """
    days = [TODAY - timedelta(days=back) for back in (9, 5)]
    rows = [answer(n, days[0], right=False, seconds=90) for n in range(1, 21)]
    rows += [answer(n, days[1], seconds=30) for n in range(1, 21)]
    found = base(*rows, answer(1), answer(99))
    spent = work(replace(found, study=replace(found.study, plan=PlanSettings()))).spent
    assert (spent.missed, spent.other) == (0.5, 1.5)


def test_a_question_missed_today_is_no_missed_one_until_tomorrow() -> None:
    """By hand: missed and right again on one day are 60 + 120 + 60 s, all of them other work."""
    spent = work(base(answer(1, right=False), answer(1))).spent
    assert (spent.missed, spent.other) == (0, 4)


@pytest.mark.parametrize(
    ("items", "days_ago", "left"),
    [
        (200, 0, 150),
        (200, 1, 150),
        (200, 2, 30),
        (200, 3, 0),
        (60, 0, 50),
        (60, 1, 38),
        (61, 1, 40),
        (45, 1, 1),
    ],
)
def test_what_the_rota_left_since_a_paper_goes_to_its_review(
    items: int, days_ago: int, left: int
) -> None:
    """By hand: 200 items in 360 minutes ask for 150, and each whole day since leaves 120 for it. 60
    items in 108 minutes ask for 50, and 12 were left on the day of the paper itself; of 61 in 109.8
    minutes 39.8 are left, a whole 40; 45 in 81 ask for 40, of which 39 were left.
    """
    thursday = date(2027, 3, 4)
    rows = sat("p", *range(1, items + 1), day=thursday - timedelta(days=days_ago))
    found = work(base(*rows, sources=(paper(),)), thursday).reviews
    assert found == ((("p", left),) if left else ())


@pytest.mark.parametrize(("days_ago", "left"), [(3, 150), (4, 0)])
def test_a_paper_of_four_days_ago_is_gone_through_no_more(days_ago: int, left: int) -> None:
    """Even where no day since had a minute for its review."""
    none = Shift(name="none", start=None, end=None, study_minutes=0)
    rota = Rota(starts=date(2027, 1, 4), shifts=(none,), weeks=(("none",) * 7,))
    rows = sat("p", *range(1, 201), day=TODAY - timedelta(days=days_ago))
    busy = base(*rows, sources=(paper(),))
    found = work(replace(busy, study=replace(busy.study, rota=rota))).reviews
    assert found == ((("p", left),) if left else ())


def kept(count: int, used: int = 0, day: date = TODAY) -> Base:
    """A base with this many questions held back, some of them answered on a day."""
    held = tuple(QuestionId(f"north:{n}") for n in range(1, count + 1))
    return replace(base(*(answer(n, day) for n in range(1, used + 1))), held_back=held)


def windows(found: Base, left: int) -> list[tuple[int, int] | None]:
    """Windows of the checks on held-back questions, so many days before the exam."""
    return [one.window for one in work(found, DAY - timedelta(days=left)).papers]


def test_a_check_takes_up_to_a_hundred_of_the_questions_held_back() -> None:
    """All 60 of 60, 100 of 130; 49 are too few for one, 50 enough."""
    one, two = work(kept(60)).papers
    assert (one.items, one.parts, one.part_count, one.part_minutes) == (60, (1,), 1, 180)
    assert (one.window, two.window) == ((24, 18), (9, 6))
    assert work(kept(130)).papers[0].items == 100
    assert work(kept(49)).papers == ()
    assert len(work(kept(50)).papers) == 2


def test_a_check_is_past_after_the_last_day_of_its_window() -> None:
    """The first may be done until 18 days before the exam."""
    assert windows(kept(200), 18) == [(24, 18), (9, 6)]
    assert windows(kept(200), 17) == [(9, 6)]


@pytest.mark.parametrize(
    ("used", "before", "expected"),
    [(50, 27, [(9, 6)]), (49, 27, [(24, 18), (9, 6)]), (50, 28, [(24, 18), (9, 6)])],
)
def test_a_check_was_done_with_half_of_its_questions(
    used: int, before: int, expected: list[tuple[int, int]]
) -> None:
    """Fifty answers from three days before its window on; earlier ones belong to no check."""
    day = DAY - timedelta(days=before)
    assert windows(kept(200, used, day), 20) == expected


def test_questions_to_take_again_are_those_of_the_banks_not_yet_taken_twice() -> None:
    """By hand: half of 600 are 300, less ten of a second round; answers elsewhere do not count."""
    rows = [answer(n, round_="second") for n in range(1, 11)]
    rows += [answer(n, source="other", round_="second") for n in range(1, 6)]
    found = base(*rows)
    half = replace(found, study=replace(found.study, plan=replace(PLAN, second_fraction=0.5)))
    assert work(half).mixed_count == 290
    none = replace(found, study=replace(found.study, plan=replace(PLAN, second_fraction=0.0)))
    assert work(none).mixed_count == 0
    third = replace(found, study=replace(found.study, plan=replace(PLAN, second_fraction=0.333)))
    assert work(third).mixed_count == 190


@pytest.mark.parametrize(("left", "released"), [(60, 20), (5, 120)])
def test_new_questions_are_neither_met_nor_held_back(left: int, released: int) -> None:
    """By hand: of 600, 10 are met and 120 held back, so 470 are new. After the first check all but
    100 of the 120 are released, after the second all.
    """
    found = work(kept(130, 10), DAY - timedelta(days=left))
    assert found.new_count == 470
    assert sum(area.count for area in found.released) == released
    assert found.released_from == DAY - timedelta(days=17)


def test_missed_questions_come_back_in_order_of_day() -> None:
    """Two missed on Tuesday and one on Monday, each due three days after."""
    monday, tuesday = date(2027, 3, 1), date(2027, 3, 2)
    rows = [answer(n, tuesday, right=False) for n in (1, 2)]
    found = work(base(*rows, answer(3, monday, right=False)), tuesday).returning
    assert [(row.due, row.right_count, row.count) for row in found] == [
        (date(2027, 3, 4), 0, 1),
        (date(2027, 3, 5), 0, 2),
    ]


def test_no_day_is_left_from_the_exam_on() -> None:
    """On the eve one day is left, on the day of the exam none."""
    assert len(situation(base(), DAY - timedelta(days=1)).days()) == 1
    assert situation(base(), DAY).days() == ()


def test_the_areas_of_a_week_are_worth_what_they_were_on_monday() -> None:
    """On Wednesday, answers of Tuesday change nothing yet; those of Sunday do. TODAY is Wednesday
    3 March; A is every question up to 300, B the others.
    """
    north = replace(
        NORTH, ranges=(ItemRange(first=1, last=300, area=A), ItemRange(first=301, last=600, area=B))
    )

    def worth(day: date) -> dict[str, float]:
        rows = [replace(answer(n, day, right=False), area=A) for n in range(1, 21)]
        areas = situation(base(*rows, sources=(north,)), TODAY).work.areas
        return {row.area: row.worth for row in areas}

    tuesday, sunday = worth(TODAY - timedelta(days=1)), worth(TODAY - timedelta(days=3))
    assert tuesday["a"] == 120 / 300
    assert tuesday["b"] == 80 / 300
    assert sunday["a"] < 120 / 300
