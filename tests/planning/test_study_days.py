"""Rest in elapsed hours, nights, and what a rota leaves for study."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.duties import duty_on, elapsed_hours, is_night, shift_on
from kb.core.settings import RestLimits, Rota, Shift
from kb.planning.rest_checks import duty_cautions, rest_cautions
from kb.planning.study_days import OFFICE, study_days

LONDON = ZoneInfo("Europe/London")
MONDAY = date(2027, 1, 4)
DAY = Shift(name="day", start=time(8), end=time(17), study_minutes=120)
LONG = Shift(name="long", start=time(8), end=time(20, 30), study_minutes=30)
EARLY = Shift(name="early", start=time(7, 30), end=time(15), study_minutes=60)
NINE = Shift(name="nine", start=time(9), end=time(21), study_minutes=0)
LATE = Shift(name="late", start=time(14), end=time(22), study_minutes=90)
NIGHT = Shift(name="night", start=time(21), end=time(9), study_minutes=60)
OFF = Shift(name="off", start=None, end=None, study_minutes=240)
ALL = (DAY, LONG, EARLY, NINE, LATE, NIGHT, OFF)


def rota(week: str, rest: RestLimits | None = None, starts: date = MONDAY) -> Rota:
    """A rota of one week, written as seven shift names."""
    return Rota(starts=starts, shifts=ALL, weeks=(tuple(week.split()),), rest=rest or RestLimits())


def minutes(week: str, **limits: float) -> list[int]:
    """Study minutes of the week after the first, so that Monday follows Sunday."""
    given_rota = rota(week, RestLimits(**limits))  # type: ignore[arg-type]
    first = MONDAY + timedelta(days=7)
    return [d.minutes for d in study_days(given_rota, LONDON, first, first + timedelta(days=6))]


@pytest.mark.parametrize(("day", "hours"), [(date(2026, 3, 28), 11), (date(2026, 10, 24), 13)])
def test_a_night_over_a_clock_change_lasts_its_elapsed_hours(day: date, hours: int) -> None:
    """21:00 to 09:00 is 11 hours in spring and 13 in autumn (tz database, Europe/London)."""
    everyday = Rota(starts=MONDAY, shifts=ALL, weeks=(("night",) * 7,))
    duty = duty_on(everyday, day, LONDON)
    assert duty is not None
    assert duty.hours == hours


def test_rest_over_a_clock_change_is_counted_in_elapsed_hours() -> None:
    """From 20:30 to 08:00 only ten and a half hours pass when clocks go forward."""
    week = Rota(starts=MONDAY, shifts=ALL, weeks=(("off",) * 5 + ("long", "long"),))
    cautions = rest_cautions(week, LONDON, date(2026, 3, 28), date(2026, 3, 29))
    assert [c.text for c in cautions if "between" in c.text] == [
        "only 10.5 h between long and long; the limit is 11 h"
    ]


@pytest.mark.parametrize(
    ("week", "expected"),
    [
        ("long long off off off off off", []),  # 20:30 to 08:00 is 11.5 h: enough
        ("nine early off off off off off", ["only 10.5 h between nine and early"]),
    ],
)
def test_eleven_hours_between_duties(week: str, expected: list[str]) -> None:
    """Less than 11 hours between two duties is said (Directive 2003/88/EC, article 3)."""
    found = rest_cautions(rota(week), LONDON, MONDAY, MONDAY + timedelta(days=6))
    texts = [c.text.split(";")[0] for c in found if "between" in c.text]
    assert texts == expected


def test_study_never_eats_into_the_eleven_hours() -> None:
    """After a long day 30 minutes leave 11 hours of rest; an hour would not, so 30 are kept."""
    greedy = Shift(name="long", start=time(8), end=time(20, 30), study_minutes=60)
    week = Rota(starts=MONDAY, shifts=(greedy, OFF), weeks=(("long", "long", *["off"] * 5),))
    found = study_days(week, LONDON, MONDAY, MONDAY)
    assert (found[0].minutes, found[0].why) == (30, "11 h of rest")
    said = rest_cautions(week, LONDON, MONDAY, MONDAY)
    assert [c.text for c in said] == [
        "only 30 of the 60 minutes set for long days leave 11 h of rest"
    ]


def test_nothing_between_nights_and_less_after_the_last() -> None:
    """A run of nights: its first day keeps its minutes, then none, then half."""
    assert minutes("off night night night off off off") == [240, 60, 0, 0, 120, 240, 240]


def test_limits_of_rest_are_settings() -> None:
    """Both rules for nights can be changed."""
    found = minutes(
        "off night night off off off off", between_nights_minutes=20, after_nights_fraction=0.25
    )
    assert found[1:4] == [60, 20, 60]


def test_a_late_shift_is_no_night() -> None:
    """A duty counts as a night with three hours between 23:00 and 06:00 or more."""
    week = rota("late night day off off off off")
    found = [is_night(duty_on(week, MONDAY + timedelta(days=i), LONDON)) for i in range(4)]
    assert found == [False, True, False, False]


def test_a_duty_that_ends_when_it_began_lasts_a_day() -> None:
    """From 08:00 to 08:00 are 24 hours."""
    shift = Shift(name="x", start=time(8), end=time(8), study_minutes=0)
    duty = duty_on(Rota(starts=MONDAY, shifts=(shift,), weeks=(("x",) * 7,)), MONDAY, LONDON)
    assert duty is not None
    assert duty.hours == 24


@pytest.mark.parametrize(
    ("hours", "limit", "minutes_left"),
    [
        (["10:00-21:00", "-", "09:00-17:00"], 24, [720, 0]),  # 36 h apart: twelve of them
        (["10:00-21:00", "-", "09:30-17:00"], 24, [960, 960]),  # 36.5 h: not looked at
        (["21:00-09:00", "-", "07:30-15:00"], 22, [960, 30]),  # 22.5 h, the day between the two
        (["11:59-21:00", "07:00-12:00"], 9, [60, 960]),  # study after a duty before noon
        (["12:00-21:00", "07:00-12:00"], 9, [960, 960]),  # study before it: not in the gap
        (["08:00-21:00", "11:59-20:00"], 13, [119, 960]),  # 14:59 h; study after the second
        (["08:00-21:00", "12:00-20:00"], 14, [60, 0]),  # 15 h: the second day's before it
    ],
)
def test_rest_is_taken_off_the_study_that_lies_between_two_duties(
    hours: list[str], limit: float, minutes_left: list[int]
) -> None:
    """By hand, 960 minutes set for every day, and the last day's cut first."""
    names = sorted(set(hours) - {"-"})
    clock = {name: [time.fromisoformat(part) for part in name.split("-")] for name in names}
    shifts = [Shift(name=n, start=a, end=b, study_minutes=960) for n, (a, b) in clock.items()]
    shifts.append(Shift(name="-", start=None, end=None, study_minutes=960))
    days = {MONDAY + timedelta(days=n): name for n, name in enumerate(hours)}
    rest = RestLimits(hours_between=limit, after_nights_fraction=1.0, between_nights_minutes=960)
    own = Rota(
        starts=MONDAY, shifts=tuple(shifts), weeks=(), exceptions=tuple(days.items()), rest=rest
    )
    found = study_days(own, LONDON, MONDAY, MONDAY + timedelta(days=1))
    assert [day.minutes for day in found] == minutes_left


def test_a_day_between_two_duties_has_room_for_what_rest_leaves() -> None:
    """From 09:00 after a night to 07:30 are 22.5 hours, of which 11 are rest: 690 minutes. Half of
    the day's 240 are set for study; a paper may take more, as far as there is room.
    """
    week = rota("night off early off off off off")
    tuesday = MONDAY + timedelta(days=8)
    (day,) = study_days(week, LONDON, tuesday, tuesday)
    assert (day.minutes, day.room_minutes) == (120, 690)
    (day,) = study_days(week, LONDON, tuesday + timedelta(days=3), tuesday + timedelta(days=3))
    assert (day.minutes, day.room_minutes) == (240, 1440)


def test_cautions_come_in_order_of_their_days() -> None:
    """Study that eats into rest on Monday before duties too close on Wednesday; and by their words
    on one day.
    """
    greedy = Shift(name="long", start=time(8), end=time(20, 30), study_minutes=60)
    own = Rota(
        starts=MONDAY,
        shifts=(greedy, EARLY, NINE),
        weeks=(),
        exceptions=tuple(
            (MONDAY + timedelta(days=n), name)
            for n, name in enumerate(("long", "long", "early", "nine", "early"))
        ),
    )
    found = rest_cautions(own, LONDON, MONDAY, MONDAY + timedelta(days=4))
    assert [caution.day.day - 3 for caution in found] == sorted(c.day.day - 3 for c in found)
    assert len({caution.day for caution in found}) >= 2
    assert "between" not in found[0].text


def test_exceptions_replace_the_weeks() -> None:
    """Leave and swaps stand before the repeating weeks, which also reach back before the start."""
    week = Rota(
        starts=MONDAY, shifts=ALL, weeks=(("day",) * 7, ("off",) * 7), exceptions=((MONDAY, "off"),)
    )
    assert shift_on(week, MONDAY).name == "off"
    assert shift_on(week, MONDAY + timedelta(days=1)).name == "day"
    assert shift_on(week, MONDAY - timedelta(days=1)).name == "off"


@pytest.mark.parametrize(
    ("week", "said"),
    [
        ("night night night night night off off", "more than 4 nights in a row"),
        ("night night night night off long off", "23 h off after 4 nights; the limit is 46 h"),
        ("long long long long long long off", "more than 5 long days in a row"),
        ("day day day day day day day", "more than 7 shifts in a row"),
        ("long long long long long long off", "75 h of duty in seven days"),
        ("long long long long long off day", "35.5 h off after 5 long days; the limit is 48 h"),
        (
            "day day day day day day day",
            "at most 15 h without duty in this week; the limit is 35 h",
        ),
    ],
)
def test_limits_of_duty_are_said(week: str, said: str) -> None:
    """Runs of nights, rest after them and hours in seven days are held against the terms of 2016.

    The national terms for doctors in training, schedule 3: at most 4 nights in a row, 46 hours
    after more than 3, 5 long days in a row and 48 hours after them, 7 shifts in a row, 72 hours in
    any 168 (from memory). A day and 11 hours a week: Directive 2003/88/EC, article 5.
    """
    found = duty_cautions(rota(week), LONDON, MONDAY, MONDAY + timedelta(days=7))
    assert any(said in caution.text for caution in found)


@pytest.mark.parametrize(
    ("week", "said"),
    [
        ("long long long long long off off", "off after"),  # 59.5 h
        ("long long long long off day day", "off after"),  # four are no five
        ("day day day day day off off", "without duty"),
        ("night night night off off day day", "without duty"),
        ("day day day day off day day", "without duty"),  # 17:00 to 08:00 and a day: 39 h
    ],
)
def test_rest_that_is_long_enough_is_not_mentioned(week: str, said: str) -> None:
    """48 hours after five long days, and 35 hours somewhere in each week, are enough."""
    found = duty_cautions(rota(week), LONDON, MONDAY, MONDAY + timedelta(days=27))
    assert not [caution for caution in found if said in caution.text]


def test_average_hours_are_held_against_forty_eight() -> None:
    """More than 48 hours a week on average is said (Directive 2003/88/EC, article 6)."""
    found = duty_cautions(
        rota("long long long long off off off"), LONDON, MONDAY, date(2027, 2, 28)
    )
    assert "50.0 h of duty a week on average; the limit is 48 h" in [c.text for c in found]
    just = duty_cautions(rota("nine nine nine nine off off off"), LONDON, MONDAY, date(2027, 2, 28))
    assert not [caution for caution in just if "average" in caution.text]
    short = duty_cautions(
        rota("long long long long off off off"), LONDON, MONDAY, date(2027, 1, 30)
    )
    assert not [caution for caution in short if "average" in caution.text]
    four = duty_cautions(rota("long long long long off off off"), LONDON, MONDAY, date(2027, 1, 31))
    assert [caution.day for caution in four if "average" in caution.text] == [MONDAY]
    office = duty_cautions(OFFICE, LONDON, MONDAY, date(2027, 2, 28))
    assert office == ()


def cautions(hours: list[str], first: date = MONDAY) -> list[tuple[int, str]]:
    """Cautions for duties of these hours, one a day (`-` for none), by the number of the day."""
    names = sorted(set(hours) - {"-"})
    clock = {name: [time.fromisoformat(part) for part in name.split("-")] for name in names}
    shifts = [Shift(name=n, start=a, end=b, study_minutes=0) for n, (a, b) in clock.items()]
    days = {first + timedelta(days=n): name for n, name in enumerate(hours) if name != "-"}
    own = Rota(starts=MONDAY, shifts=tuple(shifts), weeks=(), exceptions=tuple(days.items()))
    found = duty_cautions(own, LONDON, first, first + timedelta(days=len(hours) - 1))
    return [((caution.day - first).days, caution.text) for caution in found]


def test_seventy_two_hours_of_seven_days() -> None:
    """Six duties of 12 h in seven days are 72 h, an eighth day is not among them; a minute more is
    over the limit (the terms of 2016: 72 hours in any 168).
    """
    twelve, over = "08:00-20:00", "08:00-20:01"
    assert not [t for _, t in cautions([twelve] * 3 + ["-"] + [twelve] * 4) if "seven days" in t]
    assert not [t for _, t in cautions([twelve] * 6 + ["-", twelve]) if "seven days" in t]
    assert [n for n, t in cautions([twelve] * 5 + [over]) if "72.02 h of duty in" in t] == [5]
    assert [n for n, t in cautions([twelve] * 8) if "84 h of duty in" in t] == [6]


def test_thirteen_hours_are_the_longest_duty() -> None:
    """20:00 to 09:00 is within the limit and a minute more is not (13 h is 24 less 11 of rest)."""
    assert cautions(["20:00-09:00"]) == []
    assert cautions(["20:00-09:01"]) == [(0, "20:00-09:01 lasts 13.02 h")]


def test_a_week_of_rest_runs_from_monday() -> None:
    """Seven days of work from Wednesday fill no week from Monday; from Monday they do."""
    day, gap = "08:00-17:00", ["-", "-"]
    found = cautions([*gap, *[day] * 7, "-", "-", "-", "-", "-"])
    assert not [text for _, text in found if "without duty" in text]
    wednesday = cautions([day] * 7, MONDAY + timedelta(days=2))
    assert not [text for _, text in wednesday if "without duty" in text]
    assert [n for n, text in cautions([day] * 7) if "without duty" in text] == [0]


@pytest.mark.parametrize(
    ("day", "monday"),
    [
        ("2003-12-29", "2003-12-29"),
        ("2004-01-04", "2003-12-29"),
        ("2005-01-01", "2004-12-27"),
        ("2010-01-03", "2009-12-28"),
        ("2026-12-31", "2026-12-28"),
    ],
)
def test_a_free_day_is_chosen_from_its_iso_week(day: str, monday: str) -> None:
    """Over the turn of a year a week still runs from its Monday (ISO 8601, the examples of Python's
    isocalendar and of check value 73): the days kept free are the same whichever day is asked for.
    """
    own = Rota(
        starts=MONDAY, shifts=ALL, weeks=(("off",) * 7,), rest=RestLimits(free_days_a_week=2)
    )
    start, asked = date.fromisoformat(monday), date.fromisoformat(day)
    assert start.isocalendar()[:2] == asked.isocalendar()[:2]
    week = study_days(own, LONDON, start, start + timedelta(days=6))
    assert sum(not one.minutes for one in week) == 2
    assert study_days(own, LONDON, asked, asked)[0] == week[(asked - start).days]


def test_bank_holidays_are_days_off_in_the_weeks_if_asked_for() -> None:
    """Those of England in 2027 (from memory of the published list); exceptions come first."""
    own = Rota(
        starts=MONDAY,
        shifts=ALL,
        weeks=(("day",) * 7,),
        bank_holidays="GB-ENG",
        exceptions=((date(2027, 5, 3), "late"),),
    )
    days = [date(2027, 1, 1) + timedelta(days=n) for n in range(365)]
    off = [f"{day:%d %b}" for day in days if shift_on(own, day).name == "off"]
    assert off == ["01 Jan", "26 Mar", "29 Mar", "31 May", "30 Aug", "25 Dec", "26 Dec", "27 Dec",
                   "28 Dec"]  # fmt: skip
    assert shift_on(own, date(2027, 5, 3)).name == "late"
    assert shift_on(replace(own, bank_holidays=""), date(2027, 3, 26)).name == "day"


@given(st.lists(st.sampled_from([s.name for s in ALL]), min_size=7, max_size=7), st.integers(0, 60))
def test_minutes_never_exceed_what_is_set_and_rest_is_kept(names: list[str], start: int) -> None:
    """Whatever the week: never more than the shift allows, never less rest than the limit."""
    week = Rota(starts=MONDAY, shifts=ALL, weeks=(tuple(names),))
    first = date(2026, 3, 1) + timedelta(days=start)
    days = study_days(week, LONDON, first, first + timedelta(days=13))
    assert all(0 <= day.minutes <= day.set_minutes for day in days)
    for day, after in pairwise(days):
        one, two = duty_on(week, day.day, LONDON), duty_on(week, after.day, LONDON)
        if one is None or two is None or one.start.hour >= 12:
            continue
        gap = elapsed_hours(one.end, two.start)
        study = day.minutes + (after.minutes if two.start.hour >= 12 else 0)
        assert study <= max(0, 60 * (gap - 11) + 1e-6)


def test_moments_of_two_zones() -> None:
    """Elapsed time is taken between instants, whatever their zones."""
    one = datetime(2026, 7, 1, 12, tzinfo=LONDON)
    two = datetime(2026, 7, 1, 13, tzinfo=ZoneInfo("Europe/Paris"))
    assert elapsed_hours(one, two) == 0


def test_without_a_rota_office_hours_are_taken() -> None:
    """From eight to five on working days with two hours of study, and four on the others (common
    practice, no source).
    """
    days = study_days(OFFICE, ZoneInfo("UTC"), date(2027, 3, 1), date(2027, 3, 7))
    assert [day.minutes for day in days] == [120] * 5 + [240] * 2
    (working,) = [shift for shift in OFFICE.shifts if shift.name == "day"]
    assert (working.start, working.end) == (time(8), time(17))
