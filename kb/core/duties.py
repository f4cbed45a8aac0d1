"""The duties of a rota: when each begins and ends, which are nights and which are long.

Clocks change: a night of 12 hours by the clock may last 11 or 13. Every length is therefore taken
between instants, never between clock times.

Source: eu2003, article 2 for nights; uk2016 for long days (both from memory).
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from kb.core.bank_holidays import bank_holidays
from kb.core.settings import Rota, Shift

NIGHT_FROM, NIGHT_TO, NIGHT_HOURS = time(23), time(6), 3.0
"""A duty counts as a night when three hours or more of it lie between 23:00 and 06:00, as in the
working time rules for night workers (eu2003, article 2; hours from memory)."""
NOON = time(12)
LONG_HOURS = 10.0
"""A duty longer than this counts as long (uk2016; from memory)."""
OFF = Shift(name="off", start=None, end=None, study_minutes=240)


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    """One spell of work: aware instants on the doctor's clock."""

    day: date
    shift: str
    start: datetime
    end: datetime

    @property
    def hours(self) -> float:
        """How long it lasts, in elapsed hours."""
        return elapsed_hours(self.start, self.end)


def elapsed_hours(start: datetime, end: datetime) -> float:
    """Hours that pass between two aware moments, whatever the clock's face says.

    Python subtracts two moments of one zone by their clock times, so this goes through UTC.
    """
    return (end.astimezone(UTC) - start.astimezone(UTC)).total_seconds() / 3600


def shift_on(rota: Rota, day: date) -> Shift:
    """The shift of one day: its exception if it has one, or that of the week, or a day off."""
    name = dict(rota.exceptions).get(day, "")
    if not name and rota.bank_holidays and day in bank_holidays(rota.bank_holidays, day.year):
        name = OFF.name
    if not name and rota.weeks:
        name = rota.weeks[((day - rota.starts).days // 7) % len(rota.weeks)][day.weekday()]
    found = next((shift for shift in rota.shifts if shift.name == name), None)
    return found or OFF


def duty_on(rota: Rota, day: date, zone: ZoneInfo) -> Duty | None:
    """The duty that begins on a day, or None."""
    shift = shift_on(rota, day)
    if shift.start is None or shift.end is None:
        return None
    last = day if shift.end > shift.start else day + timedelta(days=1)
    return Duty(
        day=day,
        shift=shift.name,
        start=datetime.combine(day, shift.start, zone),
        end=datetime.combine(last, shift.end, zone),
    )


def is_night(duty: Duty | None) -> bool:
    """Whether a duty is a night: three hours or more of it between 23:00 and 06:00."""
    if duty is None:
        return False
    hours = 0.0
    for offset in (-1, 0):
        evening = duty.day + timedelta(days=offset)
        begins = datetime.combine(evening, NIGHT_FROM, duty.start.tzinfo)
        ends = datetime.combine(evening + timedelta(days=1), NIGHT_TO, duty.start.tzinfo)
        # Clock times of one zone compare by their face, so go by the moment instead.
        start = max(begins, duty.start, key=datetime.timestamp)
        end = min(ends, duty.end, key=datetime.timestamp)
        hours += max(0.0, elapsed_hours(start, end))
    return hours >= NIGHT_HOURS


def is_long(duty: Duty | None) -> bool:
    """Whether a duty is long, by day or by night."""
    return duty is not None and duty.hours > LONG_HOURS


def duty_pairs(duties: dict[date, Duty | None]) -> list[tuple[Duty, Duty]]:
    """Each duty with the one that follows it, of duties in order of day."""
    return list(pairwise(duty for duty in duties.values() if duty is not None))
