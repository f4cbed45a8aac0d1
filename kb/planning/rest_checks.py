"""Where a rota, or the study set beside it, passes a limit of rest or duty."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

from kb.planning.duties import Duty, duty_on, duty_pairs, elapsed_hours, is_long, is_night
from kb.planning.study_days import study_days

if TYPE_CHECKING:
    from collections.abc import Sequence
    from zoneinfo import ZoneInfo

    from kb.core.settings import Rota


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A day on which rest or duty passes a limit, in one plain sentence."""

    day: date
    text: str


def rest_cautions(rota: Rota, zone: ZoneInfo, first: date, last: date) -> tuple[Caution, ...]:
    """Where rest between duties is too short, or where set study minutes would eat into it.

    Source: eu2003, article 3 for the 11 hours.
    """
    span = [first + timedelta(days=i) for i in range(-2, (last - first).days + 3)]
    duties = {day: duty_on(rota, day, zone) for day in span}
    limit = rota.rest.hours_between
    found = []
    for before, after in duty_pairs(duties):
        gap = elapsed_hours(before.end, after.start)
        if gap < limit and first <= after.day <= last:
            text = (
                f"only {gap:.4g} h between {before.shift} and {after.shift};"
                f" the limit is {limit:g} h"
            )
            found.append(Caution(day=after.day, text=text))
    for day in study_days(rota, zone, first, last):
        if day.why.endswith("of rest"):
            text = (
                f"{day.shift}: {day.set_minutes} minutes of study are set, {day.minutes} leave"
                f" {limit:g} h of rest"
            )
            found.append(Caution(day=day.day, text=text))
    return tuple(sorted(found, key=lambda caution: (caution.day, caution.text)))


def duty_cautions(rota: Rota, zone: ZoneInfo, first: date, last: date) -> tuple[Caution, ...]:
    """Where the rota itself passes a limit of duty: it is for the doctor to raise, not for a plan.

    Source: uk2016 for 13 hours, 4 nights, 46 and 72 hours, 5 long days, 48 hours after them and 7
    shifts in a row; eu2003 for 48 hours on average, and for 24 hours of rest in a week beside 11.
    """
    span = [first + timedelta(days=i) for i in range((last - first).days + 1)]
    duties = [duty for day in span if (duty := duty_on(rota, day, zone)) is not None]
    found = [
        Caution(day=duty.day, text=f"{duty.shift} lasts {duty.hours:.4g} h")
        for duty in duties
        if duty.hours > rota.rest.duty_hours
    ]
    found += _night_runs(rota, duties)
    found += _busy_weeks(rota, duties)
    limits = rota.rest
    long = [duty for duty in duties if is_long(duty)]
    found += _runs(long, limits.long_days_in_a_row, "long days")
    found += _runs(duties, limits.shifts_in_a_row, "shifts")
    found += _after_long_days(rota, duties)
    found += _restless_weeks(rota, zone, first, last)
    weeks = len(span) / 7
    average = sum(duty.hours for duty in duties) / weeks if weeks >= 4 else 0.0
    if average > rota.rest.average_week_hours:
        text = f"{average:.1f} h of duty a week on average; the limit is"
        text = f"{text} {rota.rest.average_week_hours:g} h"
        found.append(Caution(day=first, text=text))
    return tuple(sorted(found, key=lambda caution: (caution.day, caution.text)))


def _runs(duties: Sequence[Duty], limit: int, what: str) -> list[Caution]:
    """One caution for each run of days with these duties that is longer than the limit."""
    found: list[Caution] = []
    run = 0
    for i, duty in enumerate(duties):
        follows = i > 0 and (duty.day - duties[i - 1].day).days == 1
        run = run + 1 if follows else 1
        if run == limit + 1:
            found.append(Caution(day=duty.day, text=f"more than {limit} {what} in a row"))
    return found


def _night_runs(rota: Rota, duties: Sequence[Duty]) -> list[Caution]:
    nights = [duty for duty in duties if is_night(duty)]
    found = _runs(nights, rota.rest.nights_in_a_row, "nights")
    run: list[Duty] = []
    for duty in duties:
        follows = bool(run) and (duty.day - run[-1].day).days == 1
        if is_night(duty) and (follows or not run):
            run.append(duty)
            continue
        if len(run) > 3:
            rest = elapsed_hours(run[-1].end, duty.start)
            if rest < rota.rest.hours_after_nights:
                text = f"{rest:.4g} h off after {len(run)} nights; the limit is"
                text = f"{text} {rota.rest.hours_after_nights:g} h"
                found.append(Caution(day=duty.day, text=text))
        run = [duty] if is_night(duty) else []
    return found


def _after_long_days(rota: Rota, duties: Sequence[Duty]) -> list[Caution]:
    """Too few hours off after as many long days in a row as the limit allows, or more."""
    limits = rota.rest
    found: list[Caution] = []
    run = 0
    for duty, after in pairwise(duties):
        run = run + 1 if is_long(duty) else 0
        gap = (after.day - duty.day).days
        rest = elapsed_hours(duty.end, after.start)
        goes_on = gap == 1 and is_long(after)
        if run >= limits.long_days_in_a_row and not goes_on and rest < limits.hours_after_long_days:
            text = f"{rest:.4g} h off after {run} long days;"
            text = f"{text} the limit is {limits.hours_after_long_days:g} h"
            found.append(Caution(day=after.day, text=text))
        run = run if goes_on else 0
    return found


def _restless_weeks(rota: Rota, zone: ZoneInfo, first: date, last: date) -> list[Caution]:
    """Weeks from Monday, whole within the days asked for, without one stretch of rest so long."""
    found: list[Caution] = []
    monday = first + timedelta(days=-first.weekday() % 7)
    while monday + timedelta(days=6) <= last:
        days = [monday + timedelta(days=i) for i in range(-1, 7)]
        begins = datetime.combine(monday, time(), zone)
        ends = datetime.combine(monday + timedelta(days=7), time(), zone)
        longest = 0.0
        for duty in (duty for day in days if (duty := duty_on(rota, day, zone)) is not None):
            longest = max(longest, elapsed_hours(begins, duty.start))
            begins = max(begins, duty.end)
        longest = max(longest, elapsed_hours(begins, ends))
        if longest < rota.rest.rest_hours_a_week:
            text = f"at most {longest:.4g} h without duty in this week; the limit is"
            text = f"{text} {rota.rest.rest_hours_a_week:g} h"
            found.append(Caution(day=monday, text=text))
        monday += timedelta(days=7)
    return found


def _busy_weeks(rota: Rota, duties: Sequence[Duty]) -> list[Caution]:
    limit = rota.rest.hours_in_seven_days
    found: list[Caution] = []
    busy = False
    for duty in duties:
        begins = duty.day - timedelta(days=6)
        hours = sum(other.hours for other in duties if begins <= other.day <= duty.day)
        if hours > limit and not busy:
            text = f"{hours:.4g} h of duty in seven days; the limit is {limit:g} h"
            found.append(Caution(day=duty.day, text=text))
        busy = hours > limit
    return found
