"""Titles of shifts as rota systems of several countries give them; each was judged by hand."""

from __future__ import annotations

from datetime import time

import pytest

from kb.core.settings import Shift
from kb.formats.rota import STARTING_SHIFTS
from kb.importers.rota_words import clock_minutes, shift_for

TITLES = """
Long Day                        | long
LD                              | long
LD - Ward 7                     | long
Standard Day                    | day
SD                              | day
Early                           | day
Lates                           | late
Twilight                        | late
PM shift                        | late
Night                           | night
Nights (2 of 4)                 | night
N                               | night
Registrar: N                    | night
Night float                     | night
Zero Day                        | off
ZD                              | off
Zero hours                      | off
Off                             | off
DAY OFF                         | off
Night off                       | off
Nights off                      | off
Rest day                        | off
Post-night off                  | off
Post nights                     | off
Rest after nights               | off
Rest after the night            | off
Recovery from nights            | off
Post-call                       | off
Accrued day off                 | off
RDO                             | off
TOIL                            | off
Bank holiday                    | off
Public Holiday                  | off
Non-working day                 | off
Annual leave                    | leave
A/L                             | leave
AL                              | leave
Study leave                     | leave
PTO                             | leave
Vacation                        | leave
Holiday                         | holiday
Study day                       | course
Teaching day                    | course
Mandatory training              | course
Frühdienst                      | day
Spätdienst                      | late
Nachtdienst                     | night
Dienstfrei                      | off
Urlaub                          | leave
Nuit                            | night
Repos de garde                  | off
Repos de sécurité               | off
Congés annuels                  | leave
Dagdienst                       | day
Avonddienst                     | late
Vrij                            | off
Vakantie                        | leave
Mañana                          | day
Noche                           | night
Saliente de guardia             | off
Vacaciones                      | leave
Notte                           | night
Smonto notte                    | off
Riposo                          | off
Ferie                           | leave
Natt                            | night
Ledig                           | off
Ward 7                          |
On call                         |
Jour                            |
Leave cover                     |
Knight Rider quiz               |
Everyday errands                |
"""
ROWS = [tuple(cell.strip() for cell in row.split("|")) for row in TITLES.strip().splitlines()]


@pytest.mark.parametrize(("title", "shift"), ROWS, ids=[title for title, _ in ROWS])
def test_an_all_day_title_means_its_shift(title: str, shift: str) -> None:
    """By its words alone; the last six mean none, and are left to the doctor."""
    assert (shift_for(title, None, STARTING_SHIFTS, {}) or "") == shift


@pytest.mark.parametrize(
    ("title", "hours", "shift"),
    [
        ("Ward cover", "08:00-17:00", "day"),
        ("Ward cover", "08:00-20:30", "long"),
        ("Ward cover", "20:00-08:30", "night"),
        ("On call", "20:30-09:00", "night"),
        ("Admissions", "07:30-20:00", "long"),
        ("Ward 7", "10:30-14:00", ""),
        ("Night clinic", "08:00-17:00", "day"),
        ("Night handover", "08:00-08:30", ""),
        ("Nights", "21:00-09:00", "night"),
        ("Ward day", "08:00-20:30", "long"),
        ("Bank holiday long day", "08:00-20:30", "long"),
        ("Bank holiday long day", None, "long"),
        ("Annual leave", "09:00-17:00", "leave"),
        ("Post-night off", "08:00-20:00", "off"),
        ("Teaching day", "09:00-17:00", "course"),
        ("Leave cover", "08:00-17:00", "day"),
    ],
)
def test_hours_decide_where_words_contradict_them(
    title: str, hours: str | None, shift: str
) -> None:
    """A word makes no night of a day; the nearest hours within an hour make a shift."""
    clock = None
    if hours:
        start, end = (time.fromisoformat(moment) for moment in hours.split("-"))
        clock = (start, end)
    assert (shift_for(title, clock, STARTING_SHIFTS, {}) or "") == shift


def test_words_told_before_outrank_all_others() -> None:
    """What the doctor said a title means is what it means, whatever its hours."""
    told = {"ward 7": "night", "off": "late"}
    assert shift_for("Ward 7, day off", (time(8), time(17)), STARTING_SHIFTS, told) == "night"
    assert shift_for("Day off", None, STARTING_SHIFTS, told) == "late"


def test_a_shift_of_the_doctors_own_is_found_by_its_name() -> None:
    """The longest name in the title, here one that holds another."""
    own = Shift(name="late icu", start=time(14), end=time(22), study_minutes=30)
    assert shift_for("Late ICU (east)", None, (*STARTING_SHIFTS, own), {}) == "late icu"


DUTY = Shift(name="x", start=time(8), end=time(16), study_minutes=0)


@pytest.mark.parametrize(
    ("title", "hours", "found"),
    [
        ("x", "08:00-16:00", True),
        ("x", "12:00-20:00", True),
        ("x", "12:01-20:01", False),
        ("x", "08:00-12:00", True),
        ("x", "08:00-11:59", False),
        ("x", "00:00-16:00", True),
        ("x", "23:59-16:00", False),
        ("Ward", "09:00-17:00", True),
        ("Ward", "09:01-16:00", False),
        ("Ward", "08:00-17:01", False),
    ],
)
def test_half_the_hours_make_a_named_shift_and_an_hour_apart_one_without(
    title: str, hours: str, found: bool
) -> None:
    """Of the longer of the two, by its name; within an hour at both ends, without."""
    start, end = (time.fromisoformat(moment) for moment in hours.split("-"))
    assert (shift_for(title, (start, end), [DUTY], {}) == "x") == found


def test_hours_over_midnight_overlap_by_the_clock() -> None:
    """22:00 to 06:00 and 00:00 to 08:00 have six of eight hours in common, whichever is which."""
    for one, other in (((22, 6), (0, 8)), ((0, 8), (22, 6))):
        night = Shift(name="x", start=time(one[0]), end=time(one[1]), study_minutes=0)
        assert shift_for("x", (time(other[0]), time(other[1])), [night], {}) == "x"


def test_of_shifts_with_the_same_hours_the_one_named_is_meant() -> None:
    """A day off that is named has no hours that could contradict it."""
    twin = Shift(name="clinic", start=time(8), end=time(16), study_minutes=0)
    off = Shift(name="off", start=None, end=None, study_minutes=0)
    hours = (time(8), time(16))
    assert shift_for("Clinic", hours, [DUTY, twin], {}) == "clinic"
    assert shift_for("Ward", hours, [DUTY, twin], {}) == "x"
    assert shift_for("Off", hours, [DUTY, off], {}) == "off"
    assert shift_for("Ward", (time(9), time(16)), [twin, DUTY], {}) == "clinic"


@pytest.mark.parametrize(
    ("start", "end", "minutes"), [(8, 17, (480, 1020)), (20, 8, (1200, 1920)), (8, 8, (480, 1920))]
)
def test_a_duty_that_ends_as_it_began_lasts_a_day(
    start: int, end: int, minutes: tuple[int, int]
) -> None:
    """From eight to eight are 24 hours, not none."""
    assert clock_minutes((time(start), time(end))) == minutes
