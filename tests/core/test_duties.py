"""Which duties are nights, and which are long."""

from __future__ import annotations

from datetime import date, time
from zoneinfo import ZoneInfo

import pytest

from kb.core.duties import duty_on, is_long, is_night
from kb.core.settings import Rota, Shift

LONDON = ZoneInfo("Europe/London")
MONDAY = date(2027, 1, 4)


@pytest.mark.parametrize(
    ("start", "night"), [("03:00", True), ("03:01", False), ("00:00", True), ("23:00", True)]
)
def test_the_hours_of_night_end_at_six(start: str, night: bool) -> None:
    """From 03:00 on just three of them are left."""
    shift = Shift(name="x", start=time.fromisoformat(start), end=time(12), study_minutes=0)
    own = Rota(starts=MONDAY, shifts=(shift,), weeks=(("x",) * 7,))
    assert is_night(duty_on(own, MONDAY, LONDON)) is night


@pytest.mark.parametrize(
    ("end", "night", "long_day"),
    [
        ("02:00", True, True),
        ("01:59", False, True),
        ("01:00", False, False),
        ("01:01", False, True),
    ],
)
def test_a_night_has_three_hours_and_a_long_day_more_than_ten(
    end: str, night: bool, long_day: bool
) -> None:
    """From 15:00 to 02:00 are just three hours of night; to 01:00 just ten hours, so not long."""
    shift = Shift(name="x", start=time(15), end=time.fromisoformat(end), study_minutes=0)
    own = Rota(starts=MONDAY, shifts=(shift,), weeks=(("x",) * 7,))
    duty = duty_on(own, MONDAY, LONDON)
    assert (is_night(duty), is_long(duty)) == (night, long_day)
