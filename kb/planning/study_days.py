"""What a rota leaves for study, day by day, with rest counted in elapsed hours."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, time, timedelta
from zoneinfo import ZoneInfo

from kb.core.duties import (
    NOON,
    OFF,
    Duty,
    duty_on,
    duty_pairs,
    elapsed_hours,
    is_night,
    shift_on,
)
from kb.core.settings import RestLimits, Rota, Shift
from kb.planning.free_time import LOOK_BACK_DAYS, Window, free_windows, lightest_days, room_outside

OFFICE = Rota(
    starts=date.min,
    shifts=(Shift(name="day", start=time(8), end=time(17), study_minutes=120), OFF),
    weeks=(("day",) * 5 + ("off",) * 2,),
)
"""What is assumed while there is no rota: office hours (common practice, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyDay:
    """What one day leaves for study.

    `minutes` are what may be planned; `set_minutes` what the shift would allow before rest is
    kept. `why` says in plain words why they differ. On the day `after_night` no note is due. A day
    is `free` when it has no duty, does not follow a night and may be used for study; among the
    papers it may hold the `paper_day_minutes` of its shift, and never more than `room_minutes`.
    `rest_minutes` were taken by time kept free of study, which may last `until` a time of the day.
    """

    day: date
    shift: str
    minutes: int
    set_minutes: int
    why: str = ""
    after_night: bool = False
    free: bool = False
    paper_day_minutes: int | None = None
    room_minutes: int = 24 * 60
    rest_minutes: int = 0
    until: time | None = None


def study_days(rota: Rota, zone: ZoneInfo, first: date, last: date) -> tuple[StudyDay, ...]:
    """Minutes for study on each day from `first` to `last`, both included, rest kept.

    Nothing is left between two nights in a row, less after the last night, nothing in time kept
    free by `rota.rest`, and on no day so much that fewer than `rest.hours_between` hours of rest
    remain between two duties. A day comes out the same whatever days are asked for with it.

    Source: eu2003, article 3 for the 11 hours between duties.
    """
    rest = rota.rest
    monday, sunday = first, last
    if rest.free_days_a_week:  # a free day is chosen from its whole week
        monday -= timedelta(days=first.weekday())
        sunday += timedelta(days=6 - last.weekday())
    back = LOOK_BACK_DAYS if rest.free_after_nights or rest.free_after_long_days else 2
    span = [monday + timedelta(days=i) for i in range(-back, (sunday - monday).days + 3)]
    duties = {day: duty_on(rota, day, zone) for day in span}
    windows = free_windows(rest, duties)
    days = {day: _after_nights(rota, day, duties) for day in span[back - 1 :]}
    days = {day: _keep_free(rest, one, duties, windows) for day, one in days.items()}
    days = _keep_rest(rota, days, duties)
    if rest.free_days_a_week:
        days = _keep_a_day_a_week(rest, days, duties, monday, sunday)
    return tuple(days[first + timedelta(days=i)] for i in range((last - first).days + 1))


def _after_nights(rota: Rota, day: date, duties: dict[date, Duty | None]) -> StudyDay:
    """One day with the rules for nights applied."""
    shift = shift_on(rota, day)
    was_night = is_night(duties[day - timedelta(days=1)])
    minutes, why = shift.study_minutes, ""
    if was_night and is_night(duties[day]):
        minutes, why = min(minutes, rota.rest.between_nights_minutes), "between nights"
    elif was_night:
        minutes, why = int(minutes * rota.rest.after_nights_fraction), "after nights"
    return StudyDay(
        day=day,
        shift=shift.name,
        minutes=minutes,
        set_minutes=shift.study_minutes,
        why=why if minutes < shift.study_minutes else "",
        after_night=was_night,
        paper_day_minutes=shift.paper_day_minutes,
        free=duties[day] is None and not was_night and shift.study_minutes > 0,
    )


def _keep_free(
    rest: RestLimits,
    day: StudyDay,
    duties: Mapping[date, Duty | None],
    windows: Sequence[Window],
) -> StudyDay:
    """One day with the hours and the days of the week that are kept free of study."""
    if day.day.weekday() in rest.free_weekdays:
        return _free(day, f"rest: {day.day:%A} kept free")
    found = room_outside(windows, day.day, duties)
    if found is None:
        return day
    room, until, why = found
    if not room:
        return _free(day, f"rest: {why}")
    left = min(day.minutes, room)
    return replace(
        day,
        minutes=left,
        room_minutes=room,
        rest_minutes=day.minutes - left,
        until=until.time(),
        why=f"rest until {until:%H:%M}: {why}" if day.minutes else day.why,
    )


def _free(day: StudyDay, why: str) -> StudyDay:
    """The day without study; one that had no minutes anyway keeps its own reason."""
    return replace(
        day,
        minutes=0,
        room_minutes=0,
        rest_minutes=day.rest_minutes + day.minutes,
        free=False,
        why=why if day.minutes else day.why,
    )


def _keep_a_day_a_week(
    rest: RestLimits,
    days: Mapping[date, StudyDay],
    duties: Mapping[date, Duty | None],
    monday: date,
    sunday: date,
) -> dict[date, StudyDay]:
    """Keep `rest.free_days_a_week` days of each week free: those that cost least study."""
    kept = dict(days)
    for start in range(0, (sunday - monday).days, 7):
        week = [days[monday + timedelta(days=start + i)] for i in range(7)]
        busy = {day.day for day in week if duties[day.day] is not None or day.after_night}
        minutes = {day.day: day.minutes for day in week}
        for chosen in lightest_days(minutes, busy, rest.free_days_a_week):
            kept[chosen] = _free(kept[chosen], "rest: free day of the week")
    return kept


def _keep_rest(
    rota: Rota, days: dict[date, StudyDay], duties: dict[date, Duty | None]
) -> dict[date, StudyDay]:
    """Take off what would leave less rest between two duties than the limit."""
    kept = dict(days)
    for before, after in duty_pairs(duties):
        inside = [day for day in _study_in_gap(before, after) if day in kept]
        gap = elapsed_hours(before.end, after.start)
        room = max(0, round(60 * (gap - rota.rest.hours_between)))
        excess = sum(kept[day].minutes for day in inside) - room
        for day in reversed(inside):
            cut = min(max(0, excess), kept[day].minutes)
            if cut:
                left, why = kept[day].minutes - cut, f"{rota.rest.hours_between:g} h of rest"
                kept[day] = replace(kept[day], minutes=left, why=why)
                excess -= cut
        spare = room - sum(kept[day].minutes for day in inside)
        for day in inside:
            most = kept[day].minutes + max(0, spare)
            kept[day] = replace(kept[day], room_minutes=min(kept[day].room_minutes, most))
    return kept


def _study_in_gap(before: Duty, after: Duty) -> list[date]:
    """Days whose study falls between two duties; none if more than 36 hours lie between them, of
    which a day of study always leaves 20 hours of rest.

    Study comes before a duty that begins at noon or later, and after one that begins earlier.
    """
    if elapsed_hours(before.end, after.start) > 36:
        return []
    days = []
    if before.start.time() < NOON:
        days.append(before.day)
    between = (after.day - before.day).days
    days += [before.day + timedelta(days=i) for i in range(1, between)]
    if after.start.time() >= NOON:
        days.append(after.day)
    return days
