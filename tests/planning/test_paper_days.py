"""Where papers go: by hand, and against every other day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from kb.core.settings import PlanSettings
from kb.planning.paper_days import (
    PaperWork,
    Placed,
    part_room,
    place_papers,
    review_minutes,
    within_quarter,
)
from kb.planning.study_days import StudyDay

EXAM = date(2027, 5, 11)
OWN = PlanSettings()


def paper(name: str, parts: int = 2, window: tuple[int, int] | None = None) -> PaperWork:
    """A paper of a hundred questions and three hours a part."""
    return PaperWork(
        name=name,
        title=name,
        items=100 * parts,
        parts=tuple(range(1, parts + 1)),
        part_count=parts,
        part_minutes=180,
        window=window,
    )


def before(left: int, minutes: int = 240, *, free: bool = True) -> StudyDay:
    """A day so many days before the exam."""
    day = EXAM - timedelta(days=left)
    return StudyDay(day=day, shift="off", minutes=minutes, set_minutes=minutes, free=free)


def left(placed: tuple[Placed, ...]) -> list[tuple[str, int]]:
    """Name and days before the exam of each."""
    return [(one.paper.name, (EXAM - one.day).days) for one in placed]


def test_review_takes_two_fifths_rounded_up_to_ten() -> None:
    """By hand: 180 minutes ask for 72, so 80; 360 for 144, so 150."""
    assert (review_minutes(180), review_minutes(360)) == (80, 150)


@given(st.lists(st.sampled_from([0, 120, 240]), min_size=6, max_size=40))
@settings(deadline=None)
def test_the_last_paper_lies_14_to_7_days_before_where_it_can(minutes: list[int]) -> None:
    """Against every day: in the fortnight if it has a day off, never in the last five days."""
    count = len(minutes)
    days = [before(count - i, m, free=m == 240) for i, m in enumerate(minutes)]
    placed = place_papers(days, [paper("mock")], EXAM, OWN)
    whole = [count - i for i, m in enumerate(minutes) if m == 240]
    wished = [ahead for ahead in whole if 7 <= ahead <= 14]
    assert all(ahead > 5 for _, ahead in left(placed))
    if wished:
        assert len(placed) == 1
        assert left(placed)[0][1] in wished
        followed = [a for a in wished if a - 1 in whole]
        assert left(placed)[0][1] == min(followed or wished)
    elif any(ahead > 5 for ahead in whole):
        assert placed


def test_earlier_papers_lie_a_week_apart_and_stay_put() -> None:
    """By hand: 7, 14 and 21 days before; a day later they are where they were."""
    days = [before(n) for n in range(60, 0, -1)]
    papers = [paper("one"), paper("two"), paper("mock")]
    found = place_papers(days, papers, EXAM, OWN)
    assert left(found) == [("one", 21), ("two", 14), ("mock", 7)]
    for gone in range(1, 39):
        assert place_papers(days[gone:], papers, EXAM, OWN) == found


@given(st.integers(0, 5), st.lists(st.booleans(), min_size=8, max_size=30))
@settings(deadline=None)
def test_never_two_papers_on_a_day(count: int, off: list[bool]) -> None:
    """Each day holds one at most, in its room, and each part of a paper comes once."""
    days = [before(len(off) - i, 240 if o else 180, free=o) for i, o in enumerate(off)]
    placed = place_papers(days, [paper(f"p{i}") for i in range(count)], EXAM, OWN)
    assert len({one.day for one in placed}) == len(placed)
    room = {day.day: part_room(day, 180, OWN) for day in days}
    assert all(len(one.parts) <= room[one.day] for one in placed)
    parts = [(one.paper.name, part) for one in placed for part in one.parts]
    assert len(set(parts)) == len(parts)


def test_a_paper_that_no_day_holds_whole_is_sat_in_parts() -> None:
    """On days of three hours the parts take two days, in their order."""
    days = [before(n, 180, free=False) for n in range(12, 0, -1)]
    (one, two) = place_papers(days, [paper("mock")], EXAM, OWN)
    assert (one.parts, two.parts) == ((1,), (2,))
    assert one.day < two.day


def test_one_part_early_as_a_baseline() -> None:
    """Rule 7: on the first day that holds a part, five weeks before or more; its rest is later."""
    days = [before(n, 240 if n % 7 == 3 else 60) for n in range(80, 0, -1)]
    days = [replace(day, free=day.minutes == 240) for day in days]
    papers = [paper("one"), paper("mock")]
    found = place_papers(days, papers, EXAM, OWN, baseline=True)
    assert ((EXAM - found[0].day).days, found[0].parts) == (80, (1,))
    assert [(one.paper.name, one.parts) for one in found[1:]] == [("one", (2,)), ("mock", (1, 2))]
    for some, late in ((papers, days[60:]), (papers[1:], days)):
        without = place_papers(late, some, EXAM, OWN)
        assert place_papers(late, some, EXAM, OWN, baseline=True) == without


def test_checks_on_held_back_questions_at_three_weeks_and_one() -> None:
    """Rule 9: in their own days, and not where a paper is."""
    days = [before(n) for n in range(60, 0, -1)]
    checks = [paper("held_back", 1, (24, 18)), paper("held_back", 1, (9, 6))]
    found = left(place_papers(days, [paper("mock"), *checks], EXAM, OWN))
    assert found == [("held_back", 18), ("mock", 7), ("held_back", 6)]


def test_the_eve_limit_of_a_day_with_one_part() -> None:
    """A pause between parts is added only where two are sat: 375 minutes are room for two."""
    breaks = PlanSettings(break_after_minutes=90, break_minutes=15, paper_day_minutes=360)
    assert part_room(before(9), 180, breaks) == 2
    assert part_room(replace(before(9), room_minutes=374), 180, breaks) == 1
    assert part_room(replace(before(9), room_minutes=375), 180, breaks) == 2
    assert part_room(before(9, 179, free=False), 180, breaks) == 0


def test_papers_beyond_a_quarter_go_earliest_first() -> None:
    """Rule 11: checks before papers, the earliest first, and the last always stays."""

    def at(one: PaperWork, n: int) -> Placed:
        return Placed(paper=one, day=EXAM - timedelta(days=n), parts=one.parts)

    placed = (at(paper("one"), 21), at(paper("held_back", 1, (24, 18)), 18), at(paper("mock"), 7))
    assert within_quarter(placed, 4 * (510 + 260 + 510)) == ()
    assert within_quarter(placed, 4 * (510 + 510)) == ("held_back 24",)
    assert within_quarter(placed, 4 * 510) == ("held_back 24", "one")
    assert within_quarter(placed, 60) == ("held_back 24", "one")
