"""How the person plans: the `plan:` part of study.yaml, and `rest:` of its rota.

A key that is not given keeps the value it had, so that the same readers, with the same limits,
serve the file and a what-if.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from kb.core.errors import nearest
from kb.core.ids import AreaId
from kb.core.settings import PlanSettings, RestLimits

if TYPE_CHECKING:
    from kb.formats.yaml_fields import Fields

KNOWN_REST = (
    "hours_between",
    "between_nights_minutes",
    "after_nights_fraction",
    "free_after_nights",
    "free_hours_after_nights",
    "free_after_long_days",
    "free_hours_after_long_days",
    "free_days_a_week",
    "free_weekdays",
    "duty_hours",
    "nights_in_a_row",
    "long_days_in_a_row",
    "shifts_in_a_row",
    "hours_after_nights",
    "hours_after_long_days",
    "rest_hours_a_week",
    "hours_in_seven_days",
    "average_week_hours",
)
KNOWN_PLAN = (
    "second_fraction",
    "paper_day_minutes",
    "reading_fraction",
    "last_look_days",
    "seconds",
    "review_seconds",
    "paper_start",
    "break_after_minutes",
    "break_minutes",
    "area_order",
)
NO_LONGER = ("first_per_day", "second_per_day", "papers", "paper_days", "mock")
"""Settings of an earlier plan: the papers are those under `sources`, and no day has a cap."""
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
WEEKEND = (5, 6)


def parse_rest(fields: Fields, usual: RestLimits | None = None) -> RestLimits:
    """Read the `rest:` mapping; a value that is not valid stays as in `usual`, with a Problem."""
    fields.warn_unknown(KNOWN_REST)
    was = usual or RestLimits()
    whole, number = fields.integer, fields.number
    rest = RestLimits(
        hours_between=number("hours_between", was.hours_between, high=24),
        between_nights_minutes=whole(
            "between_nights_minutes", was.between_nights_minutes, high=480
        ),
        after_nights_fraction=number("after_nights_fraction", was.after_nights_fraction, high=1.0),
        free_after_nights=whole("free_after_nights", was.free_after_nights, high=14),
        free_hours_after_nights=number(
            "free_hours_after_nights", was.free_hours_after_nights, high=168
        ),
        free_after_long_days=whole("free_after_long_days", was.free_after_long_days, high=14),
        free_hours_after_long_days=number(
            "free_hours_after_long_days", was.free_hours_after_long_days, high=168
        ),
        free_days_a_week=whole("free_days_a_week", was.free_days_a_week, high=6),
        free_weekdays=_weekdays(fields, was.free_weekdays),
        duty_hours=number("duty_hours", was.duty_hours, high=48),
        nights_in_a_row=whole("nights_in_a_row", was.nights_in_a_row, low=1, high=31),
        long_days_in_a_row=whole("long_days_in_a_row", was.long_days_in_a_row, low=1, high=31),
        shifts_in_a_row=whole("shifts_in_a_row", was.shifts_in_a_row, low=1, high=31),
        hours_after_nights=number("hours_after_nights", was.hours_after_nights, high=168),
        hours_after_long_days=number("hours_after_long_days", was.hours_after_long_days, high=168),
        rest_hours_a_week=number("rest_hours_a_week", was.rest_hours_a_week, high=168),
        hours_in_seven_days=number("hours_in_seven_days", was.hours_in_seven_days, high=168),
        average_week_hours=number("average_week_hours", was.average_week_hours, high=168),
    )
    if not rest.free_after_nights:
        _warn_without_run(fields, "nights", rest.free_hours_after_nights)
    if not rest.free_after_long_days:
        _warn_without_run(fields, "long_days", rest.free_hours_after_long_days)
    return rest


def _warn_without_run(fields: Fields, what: str, free_hours: float) -> None:
    """Hours are set, but not after how long a run, so that they have no effect."""
    hours, run = f"free_hours_after_{what}", f"free_after_{what}"
    if free_hours and hours in fields and fields.text(run, "0") == "0":
        hint = f"add {run}: 3 for runs of three or more, or 1 for each"
        message = f"{hours} has no effect without {run}"
        fields.report(fields.place(hours).line, "no-effect", message, hint, "caution")


def _weekdays(fields: Fields, usual: tuple[int, ...]) -> tuple[int, ...]:
    """Days of the week by name, also in short; `weekend` is both of its days, `none` no day."""
    if "free_weekdays" not in fields:
        return usual
    found: set[int] = set()
    words = re.split(r"[,\s]+", " ".join(fields.texts("free_weekdays")))
    for word in words:
        name = word.casefold()
        at = [i for i, day in enumerate(WEEKDAYS) if len(name) >= 3 and day.startswith(name)]
        if name in ("weekend", "weekends"):
            at = list(WEEKEND)
        if not at and name not in ("", "and", "none"):
            hint = nearest(name, (*WEEKDAYS, "weekend"))
            hint = hint or "write [saturday, sunday], or weekend for both"
            line = fields.place("free_weekdays").line
            message = f"free_weekdays: '{word}' is not a day of the week"
            fields.report(line, "bad-value", message, hint)
        found.update(at)
    return tuple(sorted(found))


def parse_plan(fields: Fields, usual: PlanSettings | None = None) -> PlanSettings:
    """Read the `plan:` mapping; a value that is not valid stays as in `usual`, with a Problem."""
    fields.warn_unknown((*KNOWN_PLAN, *NO_LONGER))
    for key in NO_LONGER:
        if key in fields:
            hint = "delete the line; the papers planned are those under 'sources'"
            message = f"{key} no longer has any effect on the plan"
            fields.report(fields.place(key).line, "no-effect", message, hint, "caution")
    was = usual or PlanSettings()
    whole, number = fields.integer, fields.number
    areas = fields.texts("area_order")
    return PlanSettings(
        second_fraction=number("second_fraction", was.second_fraction, high=1.0),
        paper_day_minutes=whole("paper_day_minutes", was.paper_day_minutes, high=720),
        reading_fraction=number("reading_fraction", was.reading_fraction, high=0.9),
        last_look_days=whole("last_look_days", was.last_look_days, low=1, high=30),
        seconds=number("seconds", was.seconds, high=3600),
        review_seconds=number("review_seconds", was.review_seconds, high=3600),
        paper_start=fields.clock("paper_start") or was.paper_start,
        break_after_minutes=_break_after(fields, was.break_after_minutes),
        break_minutes=whole("break_minutes", was.break_minutes, low=1, high=120),
        area_order=tuple(AreaId(area.casefold()) for area in areas) or was.area_order,
    )


def _break_after(fields: Fields, usual: int) -> int:
    """Minutes of study before a break: 0 for no breaks, or at least ten."""
    minutes = fields.integer("break_after_minutes", usual, high=480)
    if 0 < minutes < 10:
        line = fields.place("break_after_minutes").line
        message = f"break_after_minutes: a break after every {minutes} minutes leaves no study"
        fields.report(line, "bad-number", message, "write a whole number from 10 to 480, or 0")
        return usual
    return minutes
