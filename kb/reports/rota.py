"""What the rota leaves for study on the coming days, and where rest is too short."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

from kb.core.model import Base
from kb.planning.duties import duty_on
from kb.planning.rest_checks import Caution, duty_cautions, rest_cautions
from kb.planning.study_days import OFFICE, study_days
from kb.presentation.report_model import Block, Column, Option, Report, Table, Text, day_line

OPTIONS = (Option(name="days", kind="int", default=28, least=1, unit="days", help="Days to show."),)
COLUMNS = (
    Column(key="weekday", label="Day"),
    Column(key="day", label="", kind="date"),
    Column(key="shift", label="Shift"),
    Column(key="hours", label="Hours", kind="number"),
    Column(key="minutes", label="Study minutes", kind="minutes"),
    Column(key="why", label="Reduced for"),
)
CAUTION_COLUMNS = (
    Column(key="weekday", label="Day"),
    Column(key="day", label="", kind="date"),
    Column(key="text", label="Caution"),
)


def build(base: Base, today: date, *, days: int) -> Report:
    """One row for each day, then cautions in order of day."""
    rota, zone = base.study.rota or OFFICE, ZoneInfo(base.study.timezone)
    last = today + timedelta(days=max(1, days) - 1)
    rows = []
    for day in study_days(rota, zone, today, last):
        duty = duty_on(rota, day.day, zone)
        hours = duty.hours if duty else None
        rows.append((f"{day.day:%a}", day.day, day.shift, hours, day.minutes, day.why))
    blocks: list[Block] = [Table(key="days", columns=COLUMNS, rows=tuple(rows))]
    found = (*rest_cautions(rota, zone, today, last), *duty_cautions(rota, zone, today, last))
    if base.study.rota is None:
        text = "There is no rota in study.yaml: office hours from Monday to Friday are assumed."
        blocks.append(Text(text=text, quiet=True))
    if found:
        blocks.append(Table(key="cautions", columns=CAUTION_COLUMNS, rows=_rows(found)))
    else:
        blocks.append(Text(text="Rest and duty stay within the limits set for these days."))
    return Report(
        name="rota",
        title="Rota",
        right=day_line(today, base.exam.date),
        blocks=tuple(blocks),
        cites=("eu2003", "uk2016"),
    )


def _rows(found: tuple[Caution, ...]) -> tuple[tuple[object, ...], ...]:
    ordered = sorted(found, key=lambda caution: (caution.day, caution.text))
    return tuple((f"{caution.day:%a}", caution.day, caution.text) for caution in ordered)
