"""Time that a doctor keeps free of study, whatever the plan is short of.

Every rule follows from the rota and a setting under `rota: rest:`, never from what is left to do,
so that a free day does not move when the plan falls behind: a family can count on it. Off unless
set, and giving it up is never proposed. The price is a plan that may not fit beside free evenings.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from kb.core.duties import NOON, Duty, elapsed_hours, is_long, is_night
from kb.core.settings import RestLimits
from kb.core.wording import in_words

DAY_FROM, DAY_TO = time(7), time(22)
"""On a day into which kept hours reach, study lies between these (own: the rest is for sleep)."""
MOST_RUN = 31
LOOK_BACK_DAYS = MOST_RUN + 9
"""Enough to count a run of duties and then to see a whole week of hours kept after it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """Aware instants between which nothing is studied, and why."""

    start: datetime
    end: datetime
    why: str


def free_windows(rest: RestLimits, duties: Mapping[date, Duty | None]) -> tuple[Window, ...]:
    """One window after each duty that ends a long enough run of nights or long days; the duties
    are in order of day.

    It lasts the hours that are set, from the end of the duty; by default the whole day after.

    Source: uk2016 for the pattern (46 hours after nights, 48 after long days, seen at second hand);
    that study keeps out of them is our own.
    """
    found: list[Window] = []
    nights = long_days = 0
    for duty in duties.values():
        if duty is None:
            nights = long_days = 0
            continue
        night = is_night(duty)
        nights = nights + 1 if night else 0
        long_days = long_days + 1 if is_long(duty) and not night else 0
        if 0 < rest.free_after_nights <= nights:
            found.append(_window(duty, rest.free_hours_after_nights, nights, "night"))
        if 0 < rest.free_after_long_days <= long_days:
            found.append(_window(duty, rest.free_hours_after_long_days, long_days, "long day"))
    return tuple(found)


def _window(duty: Duty, hours: float, run: int, word: str) -> Window:
    run = min(run, MOST_RUN)
    after = f"a {word}" if run == 1 else f"{in_words(run)} {word}s"
    zone = duty.end.tzinfo
    if hours:
        end = (duty.end.astimezone(UTC) + timedelta(hours=hours)).astimezone(zone)
        return Window(start=duty.end, end=end, why=f"{hours:g} h after {after}")
    next_day = duty.day + timedelta(days=1)
    return Window(
        start=datetime.combine(next_day, time(), zone),
        end=datetime.combine(next_day + timedelta(days=1), time(), zone),
        why=f"day after {after}",
    )


def room_outside(
    windows: Sequence[Window], day: date, duties: Mapping[date, Duty | None]
) -> tuple[int, datetime, str] | None:
    """Minutes that windows leave on one day, until when they last, and why; None if none matters.

    Study lies before a duty that begins at noon or later, and after one that begins earlier.
    """
    if not windows:
        return None
    begins, ends = _study_span(day, duties, windows[0].start)
    inside = [w for w in windows if w.start <= ends and w.end > begins]
    if not inside:
        return None
    last = max(inside, key=lambda window: window.end)
    room = round(60 * elapsed_hours(max(begins, last.end), ends))
    return max(0, room), last.end, last.why


def _study_span(
    day: date, duties: Mapping[date, Duty | None], clock: datetime
) -> tuple[datetime, datetime]:
    begins = datetime.combine(day, DAY_FROM, clock.tzinfo)
    ends = datetime.combine(day, DAY_TO, clock.tzinfo)
    before, duty = duties.get(day - timedelta(days=1)), duties.get(day)
    if before is not None:
        begins = max(begins, before.end)
    if duty is not None and duty.start.time() < NOON:
        begins = max(begins, duty.end)
    elif duty is not None:
        ends = min(ends, duty.start)
    return begins, max(begins, ends)


def lightest_days(minutes: Mapping[date, int], busy: Collection[date], count: int) -> list[date]:
    """The days of a week to keep free: without duty first, then fewest minutes, then latest.

    Source: own, because a free day should also be one of rest from work, and cost little study.
    """
    ordered = sorted(minutes, key=lambda day: (day in busy, minutes[day], -day.toordinal()))
    return ordered[:count]
