"""Time kept free of study: after nights and long days, by day of the week, so many days a week."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rest_rotas import FIRSTS, LONDON, MONDAY, ROTAS, SHIFTS, kept_hours, latest_study

from kb.core.duties import Duty, duty_on, elapsed_hours
from kb.core.settings import RestLimits, Rota, Shift
from kb.planning.free_time import Window, free_windows, room_outside
from kb.planning.study_days import StudyDay, study_days


def rota(weeks: str, **rest: object) -> Rota:
    """A rota of weeks of seven names, with these settings of rest."""
    names = weeks.split()
    rows = tuple(tuple(names[at : at + 7]) for at in range(0, len(names), 7))
    return Rota(starts=MONDAY, shifts=SHIFTS, weeks=rows, rest=RestLimits(**rest))  # type: ignore[arg-type]


def week(names: str, **rest: object) -> tuple[StudyDay, ...]:
    """The second week of a rota that repeats one, so that its Monday follows its Sunday."""
    first = MONDAY + timedelta(days=7)
    return study_days(rota(names, **rest), LONDON, first, first + timedelta(days=6))


def minutes(names: str, **rest: object) -> list[int]:
    """Its minutes."""
    return [day.minutes for day in week(names, **rest)]


def test_the_day_after_three_long_days_is_free_and_says_why() -> None:
    """Only after so many in a row: after two nothing changes, and the reason counts the run."""
    names = "long long long day long long off"
    assert minutes(names) == [30, 30, 30, 120, 30, 30, 240]
    found = week(names, free_after_long_days=3)
    assert [day.minutes for day in found] == [30, 30, 30, 0, 30, 30, 240]
    assert (found[3].why, found[3].rest_minutes) == ("rest: day after three long days", 120)
    assert week(names, free_after_long_days=2)[6].why == "rest: day after two long days"


def test_the_day_after_nights_is_free_when_asked_for() -> None:
    """Instead of half the day after the last night nothing is left; a night counts as no long day.

    The days between the nights are settled by a rule of their own.
    """
    names = "off night night night off off off"
    found = week(names, free_after_nights=3)
    assert [day.minutes for day in found] == [240, 60, 0, 0, 0, 240, 240]
    assert found[4].why == "rest: day after three nights"
    assert minutes(names, free_after_nights=4) == minutes(names)
    assert minutes(names, free_after_long_days=1) == minutes(names)


@pytest.mark.parametrize(
    ("hours", "expected", "why"),
    [
        (46, [0, 0, 240], ""),  # from Wednesday 08:30 to Friday 06:30
        (58, [0, 0, 210], "rest until 18:30: 58 h after two nights"),  # 18:30 to 22:00
        (60.5, [0, 0, 60], "rest until 21:00: 60.5 h after two nights"),
        (62, [0, 0, 0], "rest: 62 h after two nights"),
    ],
)
def test_hours_after_nights(hours: float, expected: list[int], why: str) -> None:
    """46 hours after the last night end on the second morning; what is left of a day is used.

    46 hours: terms of 2016, schedule 3 (check the current text); the rest is arithmetic.
    """
    names = "night night off off off day day"
    found = week(names, free_after_nights=2, free_hours_after_nights=hours)
    assert [day.minutes for day in found[2:5]] == expected
    assert found[4].why == why


def test_hours_after_long_days_begin_with_the_end_of_the_last() -> None:
    """48 hours from Wednesday 20:30: that evening, Thursday, and Friday up to 20:30."""
    names = "long long long off off off off"
    found = minutes(names, free_after_long_days=3, free_hours_after_long_days=48)
    assert found == [30, 30, 0, 0, 90, 240, 240]


def test_hours_are_elapsed_over_a_clock_change() -> None:
    """When clocks go forward 46 hours end an hour later by the clock (tz database)."""
    nights = Rota(
        starts=MONDAY,
        shifts=SHIFTS,
        weeks=(("off",) * 7,),
        exceptions=((date(2027, 3, 26), "night"),),
        rest=RestLimits(free_after_nights=1, free_hours_after_nights=48),
    )
    day = study_days(nights, LONDON, date(2027, 3, 29), date(2027, 3, 29))[0]
    assert day.until == time(9, 30)


def test_days_of_the_week_are_kept_free() -> None:
    """A doctor who wants weekends off gets none of them planned, whatever the rota."""
    found = week("day day day day day off long", free_weekdays=(5, 6))
    assert [day.minutes for day in found] == [120] * 5 + [0, 0]
    assert [day.why for day in found[5:]] == ["rest: Saturday kept free", "rest: Sunday kept free"]
    assert not found[5].free


@pytest.mark.parametrize(
    ("names", "free"),
    [
        ("day day day day day off off", [6]),  # the later of two alike
        ("off day day day day part off", [5]),  # the one that costs least
        ("day day day day day holiday off", [5]),  # one that has nothing anyway
        ("day day long day day day late", [2]),  # no day off: the least of the others
        ("night night night off off day day", [4]),  # not the one that follows a night
    ],
)
def test_a_day_a_week_is_kept_free(names: str, free: list[int]) -> None:
    """A day off that costs least study; where there is none, the day with the least minutes."""
    before, after = week(names), week(names, free_days_a_week=1)
    changed = [i for i in range(7) if after[i].minutes != before[i].minutes]
    assert changed == [i for i in free if before[i].minutes]
    assert all(after[i].minutes == 0 for i in free)


def test_a_free_day_does_not_move_from_one_day_to_the_next() -> None:
    """The whole week chooses, also when half of it has passed."""
    names = rota("day part day day day off off", free_days_a_week=1)
    tuesday = MONDAY + timedelta(days=8)
    assert study_days(names, LONDON, tuesday, tuesday)[0].minutes == 0
    late = study_days(names, LONDON, tuesday + timedelta(days=1), tuesday + timedelta(days=5))
    assert all(day.minutes for day in late)


def test_a_run_that_began_long_before_the_first_day_counts() -> None:
    """A week without study after fourteen nights in a row holds to its last day."""
    names = rota("night " * 14 + "off " * 14, free_after_nights=14, free_hours_after_nights=168)
    last = MONDAY + timedelta(days=14 + 6)
    found = study_days(names, LONDON, last, last + timedelta(days=1))
    assert [day.minutes for day in found] == [0, 240]
    assert found[0].why == "rest: 168 h after 14 nights"


@pytest.mark.parametrize(("nights", "run"), [(30, 30), (31, 31), (40, 31)])
def test_a_run_is_counted_up_to_a_month_on_every_day_it_keeps_free(nights: int, run: int) -> None:
    """So that the reason is the same on the first and on the seventh day after it."""
    names = rota(
        "night " * nights + "off " * (77 - nights), free_after_nights=1, free_hours_after_nights=168
    )
    ends = MONDAY + timedelta(days=nights)
    days = [study_days(names, LONDON, day, day)[0] for day in (ends, ends + timedelta(days=6))]
    word = "30" if run == 30 else "31"
    assert {day.why for day in days} == {f"rest: 168 h after {word} nights"}


@pytest.mark.parametrize(("starts", "minutes_left"), [("11:59", 0), ("12:00", 60), ("15:00", 240)])
def test_study_lies_before_a_duty_from_noon_on_and_after_an_earlier_one(
    starts: str, minutes_left: int
) -> None:
    """By hand: rest until 11:00; before a duty at 12:00 an hour is left, before one at 15:00 four;
    one at 11:59 that ends at 22:00 leaves nothing.
    """
    own = Shift(name="own", start=time.fromisoformat(starts), end=time(22), study_minutes=240)
    long = Shift(name="long", start=time(8), end=time(20), study_minutes=30)
    week = Rota(
        starts=MONDAY,
        shifts=(long, own),
        weeks=(("long", "own", *["own"] * 5),),
        rest=RestLimits(free_after_long_days=1, free_hours_after_long_days=15, hours_between=0),
    )
    tuesday = MONDAY + timedelta(days=8)
    assert study_days(week, LONDON, tuesday, tuesday)[0].minutes == minutes_left


def spell(day: date, starts: str, ends: str) -> Duty:
    """A duty from one clock time to another, over midnight if the second is earlier."""
    begin, end = time.fromisoformat(starts), time.fromisoformat(ends)
    last = day + timedelta(days=end <= begin)
    return Duty(
        day=day,
        shift="x",
        start=datetime.combine(day, begin, LONDON),
        end=datetime.combine(last, end, LONDON),
    )


@pytest.mark.parametrize(
    ("before", "duty", "kept_until", "room"),
    [
        ("", "", "07:00", None),  # over when the day of study begins
        ("", "", "07:01", 899),
        ("", "", "17:50", 250),
        ("", "", "21:59", 1),
        ("", "", "22:00", 0),
        ("20:00 08:30", "", "08:30", None),  # over before the night is
        ("20:00 08:30", "", "08:31", 809),
        ("", "08:00 17:00", "12:00", None),  # study comes after the duty
        ("", "08:00 17:00", "17:50", 250),
        ("", "13:00 21:30", "11:58", 62),  # and before this one
        ("", "13:00 21:30", "14:00", 0),
        ("", "12:00 21:30", "11:30", 30),
    ],
)
def test_minutes_that_hours_kept_free_leave_of_a_day(
    before: str, duty: str, kept_until: str, room: int | None
) -> None:
    """By hand: from their end, the end of the night before or of an early duty, whichever is last,
    to 22:00 or a late duty.
    """
    duties = {MONDAY: spell(MONDAY, *before.split())} if before else {}
    tuesday = MONDAY + timedelta(days=1)
    if duty:
        duties[tuesday] = spell(tuesday, *duty.split())
    until = datetime.combine(tuesday, time.fromisoformat(kept_until), LONDON)
    window = Window(start=until - timedelta(hours=20), end=until, why="w")
    wanted = None if room is None else (room, until, "w")
    assert room_outside([window], tuesday, duties) == wanted


@pytest.mark.parametrize(
    ("days", "reasons"),
    [
        ("night", []),
        ("night off night", []),
        ("night night", ["46 h after two nights"]),
        ("night night night", ["46 h after two nights", "46 h after three nights"]),
        ("long", []),
        ("long off long", []),
        ("long night long", []),
        ("long long", ["day after two long days"]),
        ("long day long", []),
    ],
)
def test_a_window_follows_each_duty_that_ends_a_long_enough_run(
    days: str, reasons: list[str]
) -> None:
    """Here two, from the first day known: a day off or another duty begins the count again."""
    hours = {"night": ("20:00", "08:30"), "long": ("08:00", "20:30"), "day": ("08:00", "17:00")}
    dates = [MONDAY + timedelta(days=n) for n in range(9)]
    duties = {
        day: spell(day, *hours[name]) if name in hours else None
        for day, name in zip(dates, days.split(), strict=False)
    }
    rest = RestLimits(free_after_nights=2, free_hours_after_nights=46, free_after_long_days=2)
    assert [window.why for window in free_windows(rest, duties)] == reasons


def test_of_two_windows_the_later_end_counts() -> None:
    """And one that begins after the day of study does not."""
    noon = datetime.combine(MONDAY, time(12), LONDON)
    hour = timedelta(hours=1)
    late = Window(start=noon - hour, end=noon + hour, why="late")
    early = Window(start=noon - 2 * hour, end=noon, why="early")
    evening = Window(start=noon + 11 * hour, end=noon + 30 * hour, why="evening")
    assert room_outside([late, early, evening], MONDAY, {}) == (540, noon + hour, "late")
    assert room_outside([evening], MONDAY, {}) is None


def test_a_day_without_minutes_keeps_its_own_reason() -> None:
    """Between nights and on a holiday nothing was there to be kept free."""
    found = week("night night holiday off off off off", free_after_nights=1, free_weekdays=(2,))
    assert [day.why for day in found[1:3]] == ["between nights", ""]


@given(ROTAS, FIRSTS)
@settings(max_examples=120, deadline=None)
def test_no_study_lies_in_time_kept_free(week: Rota, first: date) -> None:
    """Whatever the rota: a day's minutes fit in what its stretches without study leave of it."""
    for day in study_days(week, LONDON, first, first + timedelta(days=20)):
        assert 0 <= day.minutes <= day.set_minutes
        assert day.minutes <= day.room_minutes
        assert not (day.minutes and day.day.weekday() in week.rest.free_weekdays)
        start, end = latest_study(week, day.day, day.minutes)
        for kept_from, kept_to in kept_hours(week, day.day):
            if day.minutes and kept_from <= end and kept_to > start:
                left = 60 * elapsed_hours(max(start, kept_to), end)
                assert day.minutes <= left + 1e-6


@given(ROTAS, FIRSTS, st.integers(0, 20), st.integers(0, 20))
@settings(max_examples=60, deadline=None)
def test_a_day_is_the_same_whatever_else_is_asked(
    week: Rota, first: date, skip: int, length: int
) -> None:
    """Rest depends on the rota alone: not on where the plan begins or ends."""
    whole = study_days(week, LONDON, first, first + timedelta(days=41))
    begin = first + timedelta(days=skip)
    part = study_days(week, LONDON, begin, begin + timedelta(days=length))
    assert part == whole[skip : skip + length + 1]


@given(ROTAS, FIRSTS)
@settings(max_examples=60, deadline=None)
def test_each_week_has_its_free_days_at_the_least_cost(week: Rota, first: date) -> None:
    """Against every choice of days: no other with as many days off duty loses less study."""
    monday = first - timedelta(days=first.weekday())
    count = week.rest.free_days_a_week
    plain = replace(week, rest=replace(week.rest, free_days_a_week=0))
    before = study_days(plain, LONDON, monday, monday + timedelta(days=6))
    after = study_days(week, LONDON, monday, monday + timedelta(days=6))
    assert sum(not day.minutes for day in after) >= count

    def cost(chosen: tuple[int, ...]) -> tuple[int, int]:
        busy = sum(
            duty_on(week, before[i].day, LONDON) is not None or before[i].after_night
            for i in chosen
        )
        return busy, sum(before[i].minutes for i in chosen)

    lost = sum(day.minutes for day in before) - sum(day.minutes for day in after)
    assert lost == min(cost(chosen) for chosen in combinations(range(7), count))[1]
    changed = [i for i in range(7) if before[i].minutes != after[i].minutes]
    assert all(after[i].minutes == 0 and after[i].why for i in changed)


@given(ROTAS, FIRSTS)
@settings(max_examples=60, deadline=None)
def test_what_rest_took_adds_up(week: Rota, first: date) -> None:
    """Minutes left and minutes taken are those that the same rota has without free time."""
    bare = replace(week, rest=RestLimits(hours_between=0))
    kept = replace(week, rest=replace(week.rest, hours_between=0))
    last = first + timedelta(days=20)
    for one, two in zip(
        study_days(bare, LONDON, first, last), study_days(kept, LONDON, first, last), strict=True
    ):
        assert two.minutes + two.rest_minutes == one.minutes
        assert bool(two.rest_minutes) <= two.why.startswith("rest")


def test_without_settings_nothing_is_kept_free() -> None:
    """The defaults are as they were: every rule is off until somebody asks for it."""
    rest = RestLimits()
    assert (rest.free_after_nights, rest.free_after_long_days, rest.free_days_a_week) == (0, 0, 0)
    assert minutes("long long long off off off off") == [30, 30, 30, 240, 240, 240, 240]
