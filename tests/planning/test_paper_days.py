"""Where papers go: by hand, and against every other day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kb.core.settings import PlanSettings
from kb.planning.paper_days import (
    CHECKS,
    PaperWork,
    Placed,
    key_of,
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


def test_a_pause_follows_a_part_only_where_breaks_are_wanted() -> None:
    """By hand: a working day of 375 minutes holds two parts and 15 of break, of 374 only one;
    without breaks 360 minutes are enough.
    """
    breaks = PlanSettings(break_after_minutes=90, break_minutes=15)
    assert part_room(before(9, 375, free=False), 180, breaks) == 2
    assert part_room(before(9, 374, free=False), 180, breaks) == 1
    assert part_room(before(9, 360, free=False), 180, OWN) == 2


def test_no_day_holds_more_than_two_parts_or_24_hours() -> None:
    """By hand: 540 minutes would be three of 180, and 1,442 two of 721."""
    assert part_room(before(9, 540, free=False), 180, OWN) == 2
    long = replace(OWN, paper_day_minutes=2000)
    assert [part_room(before(9), minutes, long) for minutes in (720, 721)] == [2, 1]


def test_a_day_off_has_its_own_minutes_for_a_paper() -> None:
    """By hand: where 200 are set for it, one part of 180; 179 hold none, and the day's own 240
    minutes count where they are more.
    """
    day = before(9, 60)
    assert part_room(replace(day, paper_day_minutes=200), 180, OWN) == 1
    assert part_room(replace(day, paper_day_minutes=179), 180, OWN) == 0
    assert part_room(replace(before(9, 240), paper_day_minutes=0), 180, OWN) == 1


@pytest.mark.parametrize(
    ("parts", "part_count", "window", "text"),
    [
        ((1,), 1, None, "p"),
        ((1, 2), 2, None, "p, both parts"),
        ((2,), 2, None, "p, part 2"),
        ((1, 3), 3, None, "p, parts 1 and 3"),
        ((1,), 1, (9, 6), "p, 100 timed"),
    ],
)
def test_parts_are_named_as_they_are_sat(
    parts: tuple[int, ...], part_count: int, window: tuple[int, int] | None, text: str
) -> None:
    """By its name alone if it has one part; a hundred items a part."""
    placed = Placed(paper=paper("p", part_count, window), day=EXAM, parts=parts)
    assert placed.text == text
    assert placed.items == 100 * len(parts)
    assert placed.minutes == 180 * len(parts)


def test_the_last_paper_may_lie_nearer_or_farther_where_the_week_has_no_room() -> None:
    """With one day that holds it: 6 before the exam, or 20, but not 5."""
    for left_days, expected in ((6, [("m", 6)]), (20, [("m", 20)]), (5, [])):
        days = [before(n, 360 if n == left_days else 60, free=False) for n in range(30, 0, -1)]
        assert left(place_papers(days, [paper("m")], EXAM, OWN)) == expected


def test_a_day_before_the_last_week_is_better_than_one_after_it() -> None:
    """With room 14, 15 and 6 days before: 14. With room 15 and 6 days before: 6."""
    for rooms, expected in (({14, 15, 6}, 14), ({15, 6}, 6)):
        days = [before(n, 360 if n in rooms else 60, free=False) for n in range(30, 0, -1)]
        assert left(place_papers(days, [paper("m")], EXAM, OWN)) == [("m", expected)]


@pytest.mark.parametrize("days_left", [13, 14])
def test_papers_come_closer_together_when_time_is_short(days_left: int) -> None:
    """By hand: with 13 days to go the last of three lies 7 before, and (13 - 7) / 2 = 3 days apart
    come the others; with 14, three and a half are three days too.
    """
    days = [before(n) for n in range(days_left, 0, -1)]
    found = place_papers(days, [paper("one"), paper("two"), paper("mock")], EXAM, OWN)
    assert left(found) == [("one", 13), ("two", 10), ("mock", 7)]


def test_papers_lie_two_days_apart_at_least_where_they_can() -> None:
    """By hand: with 10 days to go three days are left for three papers, and a step is two; the
    first has no day two before 9, and goes on the day before it.
    """
    days = [before(n) for n in range(10, 0, -1)]
    papers = [paper("one"), paper("two"), paper("mock")]
    assert left(place_papers(days, papers, EXAM, OWN)) == [("one", 10), ("two", 9), ("mock", 7)]


@pytest.mark.parametrize(("days_left", "early"), [(35, True), (34, False)])
def test_a_baseline_needs_five_weeks(days_left: int, early: bool) -> None:
    """Thirty-five days before the exam one part is still sat at once; a day later not."""
    days = [before(n) for n in range(days_left, 0, -1)]
    found = place_papers(days, [paper("one"), paper("mock")], EXAM, OWN, baseline=True)
    assert (found[0].parts == (1,)) is early


def test_a_paper_of_one_part_is_a_whole_baseline() -> None:
    """Three parts in all: the first paper is sat early, the mock late, and nothing is left over."""
    days = [before(n) for n in range(60, 0, -1)]
    found = place_papers(days, [paper("one", 1), paper("mock")], EXAM, OWN, baseline=True)
    assert left(found) == [("one", 60), ("mock", 7)]


def test_the_two_checks_have_names_of_their_own() -> None:
    """A paper is known by its name, a check by its window too."""
    assert key_of(paper("p")) == "p"
    assert key_of(paper("h", 1, (24, 18))) == "h 24"


@pytest.mark.parametrize(
    ("rooms", "found"),
    [
        ({25, 17, 10, 5}, []),
        ({24, 9}, [24, 9]),
        ({18, 6}, [18, 6]),
        ({20, 19, 8, 7}, [19, 7]),
    ],
)
def test_the_checks_lie_three_weeks_and_one_week_before_the_exam(
    rooms: set[int], found: list[int]
) -> None:
    """24 to 18 days before it, and 9 to 6, as late as can be."""
    days = [before(n, 180 if n in rooms else 60, free=False) for n in range(30, 0, -1)]
    checks = [paper("held_back", 1, window) for window in CHECKS]
    assert [n for _, n in left(place_papers(days, checks, EXAM, OWN))] == found


@pytest.mark.parametrize(("minutes", "chosen"), [(150, 10), (149, 7)])
def test_a_whole_paper_goes_where_the_next_day_holds_its_review(minutes: int, chosen: int) -> None:
    """Of two days off: all of the 150 minutes that the review of six hours takes, or the later."""
    room = {9: minutes, 6: 149}
    days = [before(n, room.get(n, 60), free=n in (10, 7)) for n in range(14, 5, -1)]
    assert left(place_papers(days, [paper("mock")], EXAM, OWN)) == [("mock", chosen)]


def test_a_paper_is_sat_whole_on_an_earlier_day_rather_than_in_parts_about_the_last_week() -> None:
    """One part would fit 8 days before the exam and one 6; 20 days before it, both."""
    days = [before(n, 180 if n in (8, 6) else 60, free=n == 20) for n in range(25, 0, -1)]
    assert left(place_papers(days, [paper("mock")], EXAM, OWN)) == [("mock", 20)]


def test_a_part_without_a_time_has_no_room() -> None:
    """A working day holds none of it."""
    assert part_room(before(9, free=False), 0, OWN) == 0


def test_two_days_with_room_for_a_part_each_hold_a_paper_of_two() -> None:
    """Just as many as it has parts; one day alone does not."""
    days = [before(8, 180, free=False), before(10, 180, free=False)]
    placed = place_papers(days, [paper("p")], EXAM, OWN)
    assert [(one.parts, (EXAM - one.day).days) for one in placed] == [((1,), 10), ((2,), 8)]
    assert place_papers(days[:1], [paper("p")], EXAM, OWN) == ()
