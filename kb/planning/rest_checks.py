"""Where a rota, or the study planned with it, passes a limit of rest or duty."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING

from kb.core.duties import Duty, duty_on, duty_pairs, elapsed_hours, is_long, is_night
from kb.planning.study_days import study_days

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from zoneinfo import ZoneInfo

    from kb.core.settings import Rota

    Runs = Iterable[tuple[list[Duty], Duty | None]]

NIGHTS_TO_REST = 4
"""From this many nights in a row on, `hours_after_nights` off must follow (uk2016)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A day on which rest or duty passes a limit, in one plain sentence."""

    day: date
    text: str


def rest_cautions(rota: Rota, zone: ZoneInfo, first: date, last: date) -> tuple[Caution, ...]:
    """Where rest between duties is too short, or where set study minutes would eat into it.

    Source: eu2003, article 3 for the 11 hours.
    """
    span = [first + timedelta(days=i) for i in range(-2, (last - first).days + 1)]
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
                f"only {day.minutes} of the {day.set_minutes} minutes set for {day.shift} days"
                f" leave {limit:g} h of rest"
            )
            found.append(Caution(day=day.day, text=text))
    return tuple(sorted(found, key=lambda caution: (caution.day, caution.text)))


def duty_cautions(rota: Rota, zone: ZoneInfo, first: date, last: date) -> tuple[Caution, ...]:
    """Where the rota itself passes a limit of duty: it is for the doctor to raise, not for a plan.

    Source: uk2016 for 13 hours, 4 nights, 46 and 72 hours, 5 long days, 48 hours after them and 7
    shifts in a row; eu2003 for 48 hours on average, and for 24 hours of rest a week on top of 11.
    """
    span = [first + timedelta(days=i) for i in range((last - first).days + 1)]
    duties = [duty for day in span if (duty := duty_on(rota, day, zone)) is not None]
    found = [
        Caution(day=duty.day, text=f"{duty.shift} lasts {duty.hours:.4g} h")
        for duty in duties
        if duty.hours > rota.rest.duty_hours
    ]
    limits = rota.rest
    nights, long_days, all_days = (
        list(_runs(duties, wanted)) for wanted in (is_night, is_long, lambda _: True)
    )
    found += _too_many(nights, limits.nights_in_a_row, "nights")
    found += _too_many(long_days, limits.long_days_in_a_row, "long days")
    found += _too_many(all_days, limits.shifts_in_a_row, "shifts")
    found += _too_short(nights, NIGHTS_TO_REST, limits.hours_after_nights, "nights")
    long_run = limits.long_days_in_a_row
    found += _too_short(long_days, long_run, limits.hours_after_long_days, "long days")
    found += _busy_weeks(rota, duties)
    found += _restless_weeks(rota, zone, first, last)
    weeks = len(span) / 7
    average = sum(duty.hours for duty in duties) / weeks
    if weeks >= 4 and average > limits.average_week_hours:
        text = f"{average:.1f} h of duty a week on average; the limit is"
        text = f"{text} {limits.average_week_hours:g} h"
        found.append(Caution(day=first, text=text))
    return tuple(sorted(found, key=lambda caution: (caution.day, caution.text)))


def _runs(duties: Sequence[Duty], wanted: Callable[[Duty], bool]) -> Runs:
    """Each run of such duties on days in a row, with the duty that follows it."""
    run: list[Duty] = []
    for duty in duties:
        if run and not (wanted(duty) and (duty.day - run[-1].day).days == 1):
            yield run, duty
            run = []
        if wanted(duty):
            run.append(duty)
    if run:
        yield run, None


def _too_many(runs: Runs, limit: int, what: str) -> list[Caution]:
    """One caution for each run longer than the limit, on the day that passes it."""
    text = f"more than {limit} {what} in a row"
    return [Caution(day=run[limit].day, text=text) for run, _ in runs if len(run) > limit]


def _too_short(runs: Runs, least: int, limit: float, what: str) -> list[Caution]:
    """Where fewer hours off than the limit follow a run of at least that many duties."""
    found = []
    for run, after in runs:
        if after is None or len(run) < least:
            continue
        rest = elapsed_hours(run[-1].end, after.start)
        if rest < limit:
            text = f"{rest:.4g} h off after {len(run)} {what}; the limit is {limit:g} h"
            found.append(Caution(day=after.day, text=text))
    return found


def _restless_weeks(rota: Rota, zone: ZoneInfo, first: date, last: date) -> list[Caution]:
    """Whole weeks from Monday in which no stretch without duty is as long as it should be."""
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
