"""Random rotas, and an independent way to work out the hours they keep free of study."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from hypothesis import strategies as st

from kb.core.duties import Duty, duty_on, is_long, is_night
from kb.core.settings import RestLimits, Rota, Shift

LONDON = ZoneInfo("Europe/London")
MONDAY = date(2027, 1, 4)
SHIFTS = (
    Shift(name="day", start=time(8), end=time(17), study_minutes=120),
    Shift(name="long", start=time(8), end=time(20, 30), study_minutes=30),
    Shift(name="late", start=time(14), end=time(22), study_minutes=90),
    Shift(name="slog", start=time(10), end=time(22, 30), study_minutes=15),
    Shift(name="night", start=time(20), end=time(8, 30), study_minutes=60),
    Shift(name="off", start=None, end=None, study_minutes=240),
    Shift(name="part", start=None, end=None, study_minutes=100),
    Shift(name="holiday", start=None, end=None, study_minutes=0),
)
NAMES = tuple(shift.name for shift in SHIFTS)

RESTS = st.builds(
    RestLimits,
    hours_between=st.sampled_from([0.0, 11.0, 14.0, 24.0]),
    free_after_nights=st.integers(0, 3),
    free_hours_after_nights=st.sampled_from([0.0, 11.0, 46.0, 55.0, 58.0, 168.0]),
    free_after_long_days=st.integers(0, 3),
    free_hours_after_long_days=st.sampled_from([0.0, 13.0, 20.0, 45.0, 48.0]),
    free_days_a_week=st.sampled_from([0, 0, 1, 3]),
    free_weekdays=st.sets(st.integers(0, 6), max_size=2).map(lambda days: tuple(sorted(days))),
)
ROTAS = st.builds(
    lambda names, rest: Rota(
        starts=MONDAY, shifts=SHIFTS, weeks=(tuple(names[:7]), tuple(names[7:])), rest=rest
    ),
    st.lists(
        st.sampled_from((*NAMES, "night", "night", "long", "off", "off", "off")),
        min_size=14,
        max_size=14,
    ),
    RESTS,
)
FIRSTS = st.integers(0, 400).map(lambda days: date(2026, 1, 1) + timedelta(days=days))


def kept_hours(week: Rota, day: date) -> list[tuple[datetime, datetime]]:
    """Every stretch kept free of study by the duties of the last ten days, duty by duty."""
    found = []
    for back in range(11):
        duty = duty_on(week, day - timedelta(days=back), LONDON)
        for kind, least, hours in (
            (is_night, week.rest.free_after_nights, week.rest.free_hours_after_nights),
            (_long_day, week.rest.free_after_long_days, week.rest.free_hours_after_long_days),
        ):
            run = [duty_on(week, day - timedelta(days=back + i), LONDON) for i in range(least)]
            if duty is None or not least or not all(kind(one) for one in run):
                continue
            midnight = datetime.combine(duty.day + timedelta(days=1), time(), LONDON)
            end = datetime.combine(duty.day + timedelta(days=2), time(), LONDON)
            if hours:
                end = datetime.fromtimestamp(duty.end.timestamp() + hours * 3600, LONDON)
            found.append((duty.end if hours else midnight, end))
    return found


def _long_day(duty: Duty | None) -> bool:
    return is_long(duty) and not is_night(duty)


def latest_study(week: Rota, day: date, minutes: int) -> tuple[datetime, datetime]:
    """The latest hours of the day into which its study fits."""
    duty = duty_on(week, day, LONDON)
    before = duty_on(week, day - timedelta(days=1), LONDON)
    night = datetime.combine(day, time(22), LONDON)
    if duty is not None and duty.start.hour < 12:
        start = duty.end
        return start, max(night, start + timedelta(minutes=minutes))
    end = min(night, duty.start) if duty is not None else night
    start = end - timedelta(minutes=minutes)
    return (max(start, before.end) if before is not None else start), end
