"""Other settings tried on a plan: what is typed after --what-if, and the situation it makes."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from kb.core.errors import QueryError, nearest
from kb.core.ids import AreaId
from kb.formats.plan_settings import KNOWN_REST, parse_plan, parse_rest
from kb.formats.yaml_fields import compose, parse_day, plain, plain_in_list
from kb.planning.scheduler import order_areas

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.core.errors import Problem
    from kb.core.model import Base
    from kb.formats.yaml_fields import Fields
    from kb.planning.workload import Situation

Settings = TypeVar("Settings")
REST = tuple(key for key in KNOWN_REST if key.startswith(("hours_between", "between_", "after_")))
REST = (*REST, *(key for key in KNOWN_REST if key.startswith("free_")))
"""Settings of rest that change a plan; the others only lead to cautions about the rota."""
PLAN = (
    "paper_day_minutes",
    "reading_fraction",
    "break_after_minutes",
    "break_minutes",
    "last_look_days",
    "paper_start",
)
OWN = ("reserve", "exam", "minutes", "sample", "papers", "seconds", "review_seconds", "order")
"""Settings of which the plan holds something else than the file: what is left, or an order."""
ALSO = {"reading": "reading_fraction", "second_fraction": "sample", "area_order": "order"}
"""Other names of a setting: short ones, and those of the file."""
LISTS = ("free_weekdays",)
WHAT_IF = (*OWN, *PLAN, *REST, *ALSO)


def with_reserve(base: Base, text: str) -> tuple[Base, str]:
    """Take `reserve=300` out of a what-if, since it changes what there is to plan.

    Returns:
        The base with that reserve, and the rest of the text.

    Raises:
        QueryError: It is not a whole number.
    """
    left = []
    for part in text.replace(";", ",").split(","):
        key, _, value = part.partition("=")
        if key.strip().casefold() != "reserve":
            left.append(part)
        elif not (value.strip().isascii() and value.strip().isdigit()):
            raise QueryError(
                f"what-if: reserve: '{value.strip()}' is not a number", hint="reserve=300"
            )
        else:
            base = replace(base, study=replace(base.study, reserve_count=int(value)))
    return base, ",".join(left)


def with_minutes(now: Situation, extra: int) -> Situation:
    """The same with `extra` minutes on every kind of day that has some; rest still counts.

    Source: own, the plan with one setting changed.
    """
    shifts = tuple(
        replace(shift, study_minutes=max(0, shift.study_minutes + extra))
        if shift.study_minutes
        else shift
        for shift in now.rota.shifts
    )
    return replace(now, rota=replace(now.rota, shifts=shifts))


def what_if(now: Situation, text: str) -> Situation:
    """The situation with settings changed as written, such as `minutes=+30, papers=2`.

    A name of a shift sets its study minutes: `off=300`.

    Raises:
        QueryError: A setting is not known, or its value is not valid.
    """
    rest: list[tuple[str, str]] = []
    plan: list[tuple[str, str]] = []
    for part in text.replace(";", ",").split(","):
        key, equals, value = (piece.strip() for piece in part.partition("="))
        if not key:
            continue
        key = key.casefold().replace("-", "_")
        key = ALSO.get(key, key)
        shifts = {shift.name for shift in now.rota.shifts}
        if not equals or (key not in WHAT_IF and key not in shifts):
            hint = nearest(key, [*WHAT_IF, *shifts]) or "write minutes=+30 or papers=2"
            raise QueryError(f"what-if: '{part.strip()}' is not a setting", hint=hint)
        if key in REST or key in PLAN:
            (rest if key in REST else plan).append((key, value))
            continue
        try:
            now = _changed(now, key, value)
        except (ValueError, KeyError) as error:
            hint = "such as exam=2027-06-01, minutes=+30, papers=2, off=300"
            raise QueryError(f"what-if: {key}: '{value}' is not valid", hint=hint) from error
    limits = _read(rest, parse_rest, now.rota.rest)
    settings = _read(plan, parse_plan, now.settings)
    return replace(now, rota=replace(now.rota, rest=limits), settings=settings)


def _read(
    pairs: list[tuple[str, str]], reader: Callable[[Fields, Settings], Settings], usual: Settings
) -> Settings:
    """The settings with these changed, read as study.yaml is, with its limits and its messages."""
    if not pairs:
        return usual
    problems: list[Problem] = []
    lines = [f"{key}: {_as_yaml(key, value)}" for key, value in pairs]
    fields = compose("\n".join(lines), "what-if", 1, problems)
    settings = reader(fields, usual) if fields else usual
    if problems:
        raise QueryError(f"what-if: {problems[0].message}", hint=problems[0].hint)
    return settings


def _as_yaml(key: str, value: str) -> str:
    if not value:
        return '""'
    if key in LISTS:
        return f"[{', '.join(plain_in_list(word) for word in value.split())}]"
    return plain(value)


def _changed(now: Situation, key: str, value: str) -> Situation:
    """The situation with one setting changed that the plan does not hold as the file has it."""
    work = now.work
    if key == "exam":
        return replace(now, exam_day=parse_day(value))
    if key == "minutes":
        return with_minutes(now, int(value))
    if key == "sample":
        count = round(_within(float(value), 0, 1) * now.bank_count) - now.second_done
        return replace(now, work=replace(work, mixed_count=max(0, count)))
    if key == "papers":
        count = int(_within(int(value), 0, 100))
        whole = [paper for paper in work.papers if paper.window is None]
        gone = whole[: max(0, len(whole) - count)]
        papers = tuple(paper for paper in work.papers if paper not in gone)
        return replace(now, work=replace(work, papers=papers))
    if key == "seconds":
        own = _within(float(value), 1, 3600)
        pace = replace(work.pace, seconds=own, retry_seconds=own)
        return replace(now, work=replace(work, pace=pace))
    if key == "review_seconds":
        pace = replace(work.pace, review_seconds=_within(float(value), 0, 3600))
        return replace(now, work=replace(work, pace=pace))
    if key == "order":
        first = tuple(AreaId(area.casefold()) for area in value.split())
        left = [row.area for row in work.areas]
        for area in first:
            if area not in left:
                hint = nearest(area, left)
                raise QueryError(f"what-if: order: no question is left in '{area}'", hint=hint)
        return replace(now, work=replace(work, areas=order_areas(work.areas, first)))
    minutes = int(_within(int(value), 0, 960))
    shifts = tuple(
        replace(shift, study_minutes=minutes) if shift.name == key else shift
        for shift in now.rota.shifts
    )
    return replace(now, rota=replace(now.rota, shifts=shifts))


def _within(value: float, low: float, high: float) -> float:
    if not low <= value <= high:
        raise ValueError(value)
    return value
