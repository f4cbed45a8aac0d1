"""Rules of the plan against the plainest reckoning of the same: question by question, day by day.

Rules 2 and 5 are held against every other choice in test_scheduler.py, a day's notes and the last
paper in test_reading_list.py and test_paper_days.py.
"""

from __future__ import annotations

from datetime import date, timedelta
from fractions import Fraction
from itertools import product
from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.core.ids import AreaId, NoteId
from kb.core.settings import PlanSettings
from kb.planning.held_back import bank_questions, choose_held_back
from kb.planning.missed import return_days
from kb.planning.pace import Pace
from kb.planning.paper_days import PaperWork, place_papers, review_minutes, within_quarter
from kb.planning.plan_records import AreaWork, Plan, Returning, Work
from kb.planning.reading_list import Candidate, ReadingList
from kb.planning.scheduler import schedule
from kb.planning.study_days import StudyDay

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session

START = date(2027, 3, 1)
EVEN = Pace(seconds=60, miss_fraction=0, retry_seconds=60, retry_miss_fraction=0, review_seconds=0)
"""A minute a question and nothing missed, so that minutes are questions."""
OWN = PlanSettings()


def days_of(minutes: list[int], first: int = 0) -> list[StudyDay]:
    """Days of study; one of 240 minutes is a day off, on which papers are sat."""
    return [
        StudyDay(
            day=START + timedelta(days=first + n),
            shift="off" if m == 240 else "day",
            minutes=m,
            set_minutes=m,
            free=m == 240,
        )
        for n, m in enumerate(minutes)
    ]


def planned(work: Work, minutes: list[int], far: int) -> Plan:
    """A plan over these days, the exam `far` days after the first."""
    return schedule(days_of(minutes), work, OWN, START + timedelta(days=far))


def paper(name: str, parts: int = 2) -> PaperWork:
    """A paper of a hundred questions and three hours a part."""
    numbers = tuple(range(1, parts + 1))
    return PaperWork(
        name=name, title=name, items=100 * parts, parts=numbers, part_count=parts, part_minutes=180
    )


@given(st.integers(1, 300), st.integers(20, 200), st.integers(0, 10), st.integers(0, 300))
def test_a_day_holds_the_most_questions_whose_cost_fits(
    minutes: int, seconds: int, wrong: int, review: int
) -> None:
    """Rule 1: one question after another, each at its pace and its share of a review."""
    pace = Pace(seconds=seconds, miss_fraction=wrong / 10, review_seconds=review)
    work = Work(areas=(AreaWork(area=AreaId("a"), count=10**6),), pace=pace)
    cost, count = seconds + Fraction(wrong, 10) * review, 0
    while (count + 1) * cost <= 60 * minutes:
        count += 1
    assert planned(work, [minutes], 90).days[0].new_count == count


@given(
    st.lists(st.tuples(st.integers(0, 9), st.integers(0, 1)), max_size=12),
    st.lists(st.sampled_from([0, 1, 2, 5, 30]), min_size=1, max_size=40),
    st.booleans(),
    st.integers(44, 200),
)
@settings(deadline=None)
def test_missed_questions_come_back_as_one_by_one(
    waiting: list[tuple[int, int]], minutes: list[int], wrong: bool, far: int
) -> None:
    """Rule 3: each question waits for its own day, and is tried until right twice in a row."""
    returning = tuple(
        Returning(due=START + timedelta(days=due), right_count=right, count=1)
        for due, right in waiting
    )
    pace = Pace(seconds=60, retry_seconds=60, retry_miss_fraction=float(wrong), review_seconds=0)
    plan = planned(Work(returning=returning, pace=pace), minutes, far)
    questions = [[due, right] for due, right in waiting]
    for number, room in enumerate(minutes):
        due = sorted((q for q in questions if q[0] <= number), key=lambda q: q[1])[:room]
        assert plan.days[number].missed_count == len(due)
        for question in due:
            right = 0 if wrong else question[1] + 1
            question[:] = [number + return_days(min(right, 1), far - number), right]
        questions = [q for q in questions if q[1] < 2]


@given(
    st.lists(st.sampled_from("dn-"), min_size=1, max_size=90),
    st.integers(0, 5),
    st.integers(0, 3),
)
def test_a_note_comes_back_as_one_by_one(shifts: list[str], due: int, looks: int) -> None:
    """Rule 4: 3, 10, then 30 days after it was read, the next day that follows no night; nothing
    in the three days before the last look, and once in that.
    """
    note = Candidate(
        note=NoteId("n"),
        title="n",
        area=AreaId("a"),
        seconds=60,
        marks=1.0,
        failing=False,
        due=START + timedelta(days=due),
        look_count=looks,
    )
    last = len(shifts) - 3
    found = ReadingList([note], START + timedelta(days=last))
    seen = False
    for number, shift in enumerate(shifts):
        day, minutes = START + timedelta(days=number), 0 if shift == "-" else 5
        waits = not seen if number >= last else due <= number < last - 2
        reads = shift == "d" and waits
        assert bool(found.take(day, minutes, after_night=shift == "n").notes) == reads
        if reads:
            due, looks = number + [3, 10, 30, 30, 30, 30, 30, 30][min(looks + 1, 7)], looks + 1
            seen = number >= last


def test_review_is_the_next_ten_minutes_from_two_fifths() -> None:
    """Rule 6: for every time under the clock up to a whole paper."""
    for minutes in range(1, 361):
        enough = [ten for ten in range(0, 200, 10) if 5 * ten >= 2 * minutes]
        assert review_minutes(minutes) == enough[0]


@given(st.lists(st.sampled_from([0, 60, 120]), min_size=1, max_size=12))
def test_a_review_takes_what_the_next_days_have(later: list[int]) -> None:
    """Rule 6: minute by minute, from the end of the paper until all is gone through."""
    minutes = [240, *later, 120, 120, 120, *[0] * 5]
    exam = len(minutes)
    plan = planned(Work(papers=(paper("mock", 2),), pace=EVEN), minutes, exam)
    sat = [n for n, day in enumerate(plan.days) if day.paper]
    need = 150 if sat else 0
    for number, day in enumerate(plan.days):
        room = day.minutes - day.paper_minutes if number >= (sat or [exam])[0] else 0
        assert day.review_minutes == min(need, room)
        need -= day.review_minutes


@given(st.lists(st.sampled_from([0, 120, 240]), min_size=8, max_size=60))
@settings(deadline=None)
def test_an_earlier_paper_lies_on_the_latest_day_a_week_before(minutes: list[int]) -> None:
    """Rules 7 and 8: of all days off that lie a week or more before the last paper."""
    exam = START + timedelta(days=len(minutes))
    placed = place_papers(days_of(minutes), [paper("one"), paper("mock")], exam, OWN)
    found = {one.paper.name: (exam - one.day).days for one in placed}
    off = [len(minutes) - n for n, m in enumerate(minutes) if m == 240]
    if "mock" in found:
        wished = [before for before in off if before >= found["mock"] + 7]
        if wished:
            assert found["one"] == min(wished)


@given(st.lists(st.sampled_from([0, 60, 180, 240]), min_size=36, max_size=80))
@settings(deadline=None)
def test_the_baseline_is_the_first_day_that_holds_a_part(minutes: list[int]) -> None:
    """Rule 7: of all days, if five weeks or more are left on it."""
    exam = START + timedelta(days=len(minutes))
    papers = [paper("one"), paper("mock")]
    placed = place_papers(days_of(minutes), papers, exam, OWN, baseline=True)
    holds = [n for n, m in enumerate(minutes) if m >= 180]
    if holds and len(minutes) - holds[0] >= 35:
        assert (placed[0].day, placed[0].parts) == (START + timedelta(days=holds[0]), (1,))


@pytest.mark.parametrize("items", [(5, 3, 2), (7, 2, 1), (1, 1, 1), (6, 5, 4)])
@pytest.mark.parametrize("count", [1, 4, 7, 11])
def test_no_other_split_of_held_back_questions_is_nearer_to_the_blueprint(
    session: Callable[..., Session], items: tuple[int, int, int], count: int
) -> None:
    """Rule 9: against every split of so many questions over three areas."""
    names = ("a", "b", "c")
    rows = "".join(f"  - {{area: {n}, items: {i}}}\n" for n, i in zip(names, items, strict=True))
    study = (
        "sources: [{source: north, items: 90, areas: {1-30: a, 31-60: b, 61-90: c}}]\n"
        f"held_back: {count}\n"
    )
    exam = f"exam: Quill\ndate: 2027-05-11\nblueprint:\n{rows}"
    base = session({"exam.yaml": exam, "study.yaml": study}).base
    bank = bank_questions(base.study)
    areas = [bank[question] for question in choose_held_back(base)]

    def away(split: tuple[int, ...]) -> Fraction:
        wanted = [Fraction(count * own, sum(items)) for own in items]
        return sum((abs(n - w) for n, w in zip(split, wanted, strict=True)), Fraction(0))

    every = [s for s in product(range(count + 1), repeat=3) if sum(s) == count]
    assert away(tuple(areas.count(AreaId(name)) for name in names)) == min(map(away, every))


@given(st.lists(st.sampled_from([0, 15, 60, 121, 240]), min_size=4, max_size=12))
@settings(deadline=None)
def test_the_last_days_hold_half_and_only_what_is_known(minutes: list[int]) -> None:
    """Rule 10: half of each of the last three days, an hour at most on the eve, nothing new."""
    work = Work(
        areas=(AreaWork(area=AreaId("a"), count=999),),
        returning=(Returning(due=START, right_count=0, count=999),),
        papers=(paper("mock"),),
        pace=EVEN,
    )
    plan = planned(work, minutes, len(minutes))
    *others, eve = [m // 2 for m in minutes[-3:]]
    assert [day.minutes for day in plan.days[-3:]] == [*others, min(60, eve)]
    assert all(not day.new and not day.paper for day in plan.days[-3:])


@given(
    st.lists(st.tuples(st.integers(1, 30), st.integers(1, 9)), min_size=1, max_size=6),
    st.lists(st.integers(0, 12), min_size=1, max_size=8),
)
@settings(deadline=None)
def test_no_area_is_begun_while_two_worth_more_are_left(
    rows: list[tuple[int, int]], minutes: list[int]
) -> None:
    """Rule 11: after each day; and what is met and what is not are all there is."""
    rows = sorted(rows, key=lambda row: -row[1])
    areas = tuple(
        AreaWork(area=AreaId(f"a{n}"), count=count, worth=worth)
        for n, (count, worth) in enumerate(rows)
    )
    plan = planned(Work(areas=areas, pace=EVEN), minutes, len(minutes) + 60)
    left = {area.area: area.count for area in areas}
    for day in plan.days:
        for name, count in day.new:
            left[name] -= count
        touched = [n for n, (name, _) in enumerate(left.items()) if name in dict(day.new)]
        better = list(left.values())[: max(touched, default=0)]
        assert sum(count > 0 for count in better) <= 1
    assert dict(plan.unmet) == {name: count for name, count in left.items() if count}


@given(st.integers(0, 5), st.integers(0, 6000))
def test_no_fewer_papers_could_go(count: int, minutes: int) -> None:
    """Rule 11: against leaving out every number of the earliest ones."""
    days = days_of([240] * 80)
    exam = START + timedelta(days=80)
    placed = place_papers(days, [paper(f"p{n}") for n in range(count)], exam, OWN)
    costs = [one.minutes + one.review_minutes for one in placed]
    enough = [k for k in range(len(costs)) if 4 * sum(costs[k:]) <= minutes]
    gone = within_quarter(placed, minutes)
    assert len(gone) == (enough[0] if enough else max(0, len(costs) - 1))
    assert list(gone) == [one.paper.name for one in placed[: len(gone)]]


@given(st.integers(1, 400), st.lists(st.integers(0, 60), min_size=40, max_size=70))
@settings(deadline=None, max_examples=50)
def test_the_least_share_of_each_day_that_ends_in_time(count: int, minutes: list[int]) -> None:
    """Rule 12: against every share of a day from 1 to 100 per cent."""
    plan = planned(Work(areas=(AreaWork(area=AreaId("a"), count=count),), pace=EVEN), minutes, 70)
    in_time = [
        share
        for share in range(1, 101)
        if sum(share * m // 100 for m in minutes[: 70 - 35 + 1]) >= count
    ]
    if in_time:
        left = count
        for day, own in zip(plan.days, minutes, strict=True):
            assert day.new_count == min(left, in_time[0] * own // 100)
            left -= day.new_count
