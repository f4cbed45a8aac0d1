"""What the rota leaves for study on the coming days, and where rest is too short."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

from kb.core.duties import duty_on
from kb.core.model import Base
from kb.planning.rest_checks import duty_cautions, rest_cautions
from kb.planning.study_days import OFFICE, study_days
from kb.presentation.report_model import Block, Column, Option, Report, Table, Text, paragraphs

OPTIONS = (Option("days", "int", default=28, least=1, unit="days", help="Days to show."),)
COLUMNS = (
    Column("weekday", "Weekday", quiet=True),
    Column("day", "Day", "day"),
    Column("shift", "Shift"),
    Column("hours", "Hours", "number"),
    Column("minutes", "Study minutes", "minutes"),
    Column("why", "Reduced for"),
)
CAUTION_COLUMNS = (*COLUMNS[:2], Column("text", "Caution"))


def build(base: Base, today: date, *, days: int) -> Report:
    """One row for each day, then cautions in order of day."""
    rota, zone = base.study.rota or OFFICE, ZoneInfo(base.study.timezone)
    last = today + timedelta(days=max(1, days) - 1)
    rows = []
    for day in study_days(rota, zone, today, last):
        duty = duty_on(rota, day.day, zone)
        hours = duty.hours if duty else None
        rows.append((f"{day.day:%a}", day.day, day.shift, hours, day.minutes, day.why))
    found = (*rest_cautions(rota, zone, today, last), *duty_cautions(rota, zone, today, last))
    cautions: Block = Text("Rest and duty stay within the limits set for these days.")
    if found:
        ordered = sorted(found, key=lambda caution: (caution.day, caution.text))
        texts = tuple((f"{caution.day:%a}", caution.day, caution.text) for caution in ordered)
        cautions = Table("cautions", CAUTION_COLUMNS, texts)
    days_left = Table("days", COLUMNS, tuple(rows))
    blocks = (days_left, *paragraphs(assumed(base), quiet=True), cautions)
    return Report("Rota", blocks, cites=("eu2003", "uk2016"))


def assumed(base: Base) -> str:
    """What is assumed where there is no rota."""
    text = "There is no rota in study.yaml: office hours from Monday to Friday are assumed."
    return "" if base.study.rota else text
