"""exam.yaml: the exam and its blueprint."""

import csv
from datetime import date
from pathlib import Path

from kb.core.errors import FormatError, Place, Problem
from kb.core.ids import AreaId
from kb.core.settings import Area, Exam
from kb.formats.yaml_fields import Fields, compose, plain, plain_in_list

KNOWN = ("exam", "date", "papers", "minutes", "options", "pass_mark", "pass_mark_sd", "blueprint")
KNOWN_AREA = ("area", "name", "short", "items", "topics")
MOST_DAYS_AHEAD = 5 * 366
"""A slip in the year would make a plan of decades, which takes minutes to compute."""


def parse_exam(text: str, path: str) -> tuple[Exam | None, tuple[Problem, ...]]:
    """Read exam.yaml. Without a date or a blueprint there is no exam, and a Problem says so."""
    problems: list[Problem] = []
    fields = compose(text, path, 1, problems)
    if fields is None:
        return None, tuple(problems)
    fields.warn_unknown(KNOWN)
    day = fields.day("date")
    if "date" not in fields:
        hint = "add a line such as 'date: 2027-05-11'"
        fields.report("", "no-exam-date", "the exam has no date", hint)
    areas = _areas(fields)
    pass_fraction = fields.number("pass_mark", 0.6, low=0.01, high=1.0)
    if day is None or not areas:
        return None, tuple(problems)
    exam = Exam(
        name=fields.text("exam", "the exam"),
        date=day,
        areas=areas,
        paper_count=fields.integer("papers", 2, low=1, high=20),
        paper_minutes=fields.integer("minutes", 180, low=1, high=1440),
        option_count=fields.integer("options", 5, low=2, high=10),
        pass_fraction=pass_fraction if "pass_mark" in fields else None,
        pass_sd_fraction=fields.number("pass_mark_sd", 0.0, low=0.0, high=0.5),
        place=fields.place("exam"),
    )
    return exam, tuple(problems)


def check_day(day: date, today: date, where: str) -> None:
    """Check that the exam's day is not a slip: nobody plans for one so far away.

    Raises:
        FormatError: It lies more than five years ahead.
    """
    if (day - today).days > MOST_DAYS_AHEAD:
        years = (day - today).days // 365
        hint = "is its year right, and that of today (--as-of, or the clock of this computer)?"
        raise FormatError(
            f"the exam's day, {day.isoformat()}, is {years} years away", hint, Place(where)
        )


def _areas(fields: Fields) -> tuple[Area, ...]:
    areas: dict[AreaId, Area] = {}
    for row in fields.mappings("blueprint"):
        row.warn_unknown(KNOWN_AREA)
        area = AreaId(row.text("area").casefold())
        if not area or not all(c.isalnum() or c in "-_" for c in area):
            hint = "write it in small letters, digits and hyphens, such as infectious-diseases"
            row.report("", "bad-area", f"'{area}' is not a name for an area", hint)
        elif area in areas:
            hint = "join the two lines and add up their items"
            row.report("", "duplicate-area", f"the area '{area}' appears twice", hint)
        else:
            areas[area] = Area(
                id=area,
                name=row.text("name", area.replace("-", " ").capitalize()),
                item_count=row.integer("items", 0, high=10000),
                topics=row.texts("topics"),
                short=row.text("short"),
                place=row.place("area"),
            )
    if not sum(area.item_count for area in areas.values()):
        hint = "list each area with its number of items under 'blueprint:'"
        fields.report("blueprint", "no-blueprint", "the blueprint has no items", hint)
        return ()
    return tuple(areas.values())


def templates() -> dict[str, tuple[Area, ...]]:
    """Invented blueprints of 200 items to start from, by name (common practice, no source)."""
    text = Path(__file__).with_name("blueprints.csv").read_text(encoding="utf-8")
    found: dict[str, tuple[Area, ...]] = {}
    for row in csv.DictReader(text.splitlines()):
        area = Area(id=AreaId(row["area"]), name=row["name"], item_count=int(row["items"]))
        found[row["template"]] = (*found.get(row["template"], ()), area)
    return found


def format_exam(name: str, day: date, areas: tuple[Area, ...]) -> str:
    """The text of a new exam.yaml, each key explained."""
    text = Path(__file__).with_name("new_exam.yaml").read_text(encoding="utf-8")
    lines = [text.format(name=plain(name), day=day.isoformat()).rstrip()]
    for area in areas:
        lines += [
            f"  - area: {plain(area.id)}",
            f"    name: {plain(area.name)}",
            f"    items: {area.item_count}",
        ]
        if area.topics:
            topics = ", ".join(plain_in_list(topic) for topic in area.topics)
            lines.append(f"    topics: [{topics}]")
    return "\n".join(lines) + "\n"
