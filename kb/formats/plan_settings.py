"""How the person plans: the `plan:` part of study.yaml, and `rest:` of its rota.

A key that is not given keeps the value it had, so that the same readers, with the same limits,
serve the file and a what-if.
"""

import re
from dataclasses import replace
from typing import Any

from kb.core.errors import nearest
from kb.core.ids import AreaId
from kb.core.settings import PlanSettings, RestLimits, limits
from kb.formats.yaml_fields import Fields

KNOWN_REST = (*limits(RestLimits), "free_weekdays")
KNOWN_PLAN = (*limits(PlanSettings), "paper_start", "area_order")
NO_LONGER = ("first_per_day", "second_per_day", "papers", "paper_days", "mock")
"""Settings of an earlier plan: the papers are those under `sources`, and no day has a cap."""
WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
WEEKEND = (5, 6)


def _numbers(fields: Fields, usual: RestLimits | PlanSettings) -> dict[str, Any]:
    """The numbers among the settings; whole ones where the usual value is whole."""
    found: dict[str, float] = {}
    for key, (low, high) in limits(type(usual)).items():
        value = getattr(usual, key)
        if isinstance(value, int):
            found[key] = fields.integer(key, value, low=int(low), high=int(high))
        else:
            found[key] = fields.number(key, value, low=low, high=high)
    return found


def parse_rest(fields: Fields, usual: RestLimits | None = None) -> RestLimits:
    """Read the `rest:` mapping; a value that is not valid stays as in `usual`, with a Problem."""
    fields.warn_unknown(KNOWN_REST)
    was = usual or RestLimits()
    weekdays = _weekdays(fields, was.free_weekdays)
    rest = replace(was, free_weekdays=weekdays, **_numbers(fields, was))
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
        fields.report(hours, "no-effect", message, hint, "caution")


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
            message = f"free_weekdays: '{word}' is not a day of the week"
            fields.report("free_weekdays", "bad-value", message, hint)
        found.update(at)
    return tuple(sorted(found))


def parse_plan(fields: Fields, usual: PlanSettings | None = None) -> PlanSettings:
    """Read the `plan:` mapping; a value that is not valid stays as in `usual`, with a Problem."""
    fields.warn_unknown((*KNOWN_PLAN, *NO_LONGER))
    for key in NO_LONGER:
        if key in fields:
            hint = "delete the line; the papers planned are those under 'sources'"
            message = f"{key} no longer has any effect on the plan"
            fields.report(key, "no-effect", message, hint, "caution")
    was = usual or PlanSettings()
    areas = tuple(AreaId(area.casefold()) for area in fields.texts("area_order"))
    found = replace(
        was,
        paper_start=fields.clock("paper_start") or was.paper_start,
        area_order=areas or was.area_order,
        **_numbers(fields, was),
    )
    minutes = found.break_after_minutes
    if 0 < minutes < 10:
        message = f"break_after_minutes: a break after every {minutes} minutes leaves no study"
        hint = "write a whole number from 10 to 480, or 0"
        fields.report("break_after_minutes", "bad-number", message, hint)
        return replace(found, break_after_minutes=was.break_after_minutes)
    return found
