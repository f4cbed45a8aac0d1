"""Other settings tried on a plan: what is typed after --what-if, and the base it makes."""

from collections.abc import Callable
from dataclasses import replace
from typing import TypeVar

from kb.core.errors import NotFoundError, Problem, QueryError, nearest
from kb.core.model import Base
from kb.core.settings import Rota
from kb.formats.dates import parse_day
from kb.formats.plan_settings import KNOWN_PLAN, KNOWN_REST, parse_plan, parse_rest
from kb.formats.yaml_fields import Fields, compose, plain, plain_in_list
from kb.planning.study_days import OFFICE
from kb.planning.workload import papers_left

Settings = TypeVar("Settings")
REST = tuple(key for key in KNOWN_REST if key.startswith(("hours_between", "between_", "after_")))
REST = (*REST, *(key for key in KNOWN_REST if key.startswith("free_")))
"""Settings of rest that change a plan; the others only lead to cautions about the rota."""
LISTS = ("free_weekdays", "area_order")
SHORT = {"reading": "reading_fraction", "sample": "second_fraction", "order": "area_order"}
OWN = ("exam", "minutes", "papers")
"""What has no key of its own under `plan` or `rest`."""
PLAN = tuple(key for key in KNOWN_PLAN if key != "paper_start")
"""Settings of the plan; another hour for papers moves nothing to another day."""
WHAT_IF = (*OWN, *PLAN, *REST, *SHORT)
WANTED = {
    "exam": ("a date", "2027-06-01"),
    "minutes": ("a number of minutes", "+30"),
    "papers": ("a number from 0 to 100", "2"),
}
"""What a value must be, and an example; that of a shift is minutes."""


def what_if(base: Base, text: str) -> Base:
    """The base with settings changed as written, such as `minutes=+30, papers=2`.

    The name of a shift sets its study minutes: `off=300`.

    Raises:
        QueryError: A setting is not known, or its value is not valid.
    """
    rota = base.study.rota or OFFICE
    shifts = {shift.name for shift in rota.shifts}
    rest: list[tuple[str, str]] = []
    plan: list[tuple[str, str]] = []
    for part in text.replace(";", ",").split(","):
        key, equals, value = (piece.strip() for piece in part.partition("="))
        key = key.casefold().replace("-", "_")
        key = SHORT.get(key, key)
        if not key:
            continue
        if not equals or (key not in WHAT_IF and key not in shifts):
            hint = nearest(key, [*WHAT_IF, *shifts]) or "write minutes=+30 or papers=2"
            raise QueryError(f"what-if: '{part.strip()}' is not a setting", hint=hint)
        if key in REST:
            rest.append((key, value))
        elif key in PLAN:
            plan.append((key, value))
        else:
            try:
                base = _changed(base, key, value)
            except ValueError as error:
                wanted, example = WANTED.get(key, ("minutes from 0 to 960", "300"))
                message = f"what-if: {key} must be {wanted}; you typed '{value}'"
                raise QueryError(message, hint=f"such as {key}={example}") from error
    study = base.study
    if rest:
        rota = study.rota or OFFICE
        study = replace(study, rota=replace(rota, rest=_read(rest, parse_rest, rota.rest)))
    study = replace(study, plan=_read(plan, parse_plan, study.plan))
    for area in study.plan.area_order:
        try:
            base.exam.area(area)
        except NotFoundError as error:
            raise QueryError(f"what-if: area_order: {error.message}", hint=error.hint) from error
    return replace(base, study=study)


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


def _changed(base: Base, key: str, value: str) -> Base:
    """The base with another exam date, minutes or number of papers."""
    if key == "exam":
        return replace(base, exam=replace(base.exam, date=parse_day(value)))
    study = base.study
    if key == "papers":
        left = [paper.name for paper in papers_left(base)]
        gone = left[: max(0, len(left) - _within(value, 100))]
        sources = tuple(source for source in study.sources if source.id not in gone)
        return replace(base, study=replace(study, sources=sources))
    rota = study.rota or OFFICE
    if key == "minutes":
        return replace(base, study=replace(study, rota=with_minutes(rota, int(value))))
    minutes = _within(value, 960)
    shifts = tuple(
        replace(shift, study_minutes=minutes) if shift.name == key else shift
        for shift in rota.shifts
    )
    return replace(base, study=replace(study, rota=replace(rota, shifts=shifts)))


def with_minutes(rota: Rota, extra: int) -> Rota:
    """The same with `extra` minutes on every kind of day that has some; rest still counts."""
    shifts = tuple(
        replace(shift, study_minutes=max(0, shift.study_minutes + extra))
        if shift.study_minutes
        else shift
        for shift in rota.shifts
    )
    return replace(rota, shifts=shifts)


def _within(value: str, most: int) -> int:
    if not 0 <= int(value) <= most:
        raise ValueError(value)
    return int(value)
