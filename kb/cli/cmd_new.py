"""Make a new base: exam.yaml and study.yaml, every line explained."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.cli.call import Call, today, with_call
from kb.cli.params import DAY, echo, interactive, say
from kb.core.errors import FormatError, KBError, Place
from kb.core.ids import AreaId
from kb.core.settings import Area
from kb.core.wording import CAUTION

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

STARTING_BLUEPRINT = (
    ("cardiology", "Cardiology", 19),
    ("respiratory", "Respiratory medicine", 19),
    ("gastroenterology", "Gastroenterology and hepatology", 19),
    ("neurology", "Neurology", 18),
    ("endocrinology", "Endocrinology and diabetes", 18),
    ("nephrology", "Nephrology", 16),
    ("infection", "Infectious diseases", 16),
    ("pharmacology", "Clinical pharmacology", 16),
    ("rheumatology", "Rheumatology", 13),
    ("haematology", "Haematology", 13),
    ("oncology", "Oncology and palliative care", 9),
    ("dermatology", "Dermatology", 7),
    ("geriatrics", "Geriatric medicine", 6),
    ("psychiatry", "Psychiatry", 5),
    ("ophthalmology", "Ophthalmology", 3),
    ("statistics", "Statistics and epidemiology", 3),
)
"""A guess to start from (common practice, no source): areas of medicine, 200 items in all."""


@click.command(name="new")
@click.argument("folder", type=click.Path(path_type=Path), default=Path())
@click.option("--exam", "exam_name", metavar="NAME", help="What the exam is called.")
@click.option("--date", "exam_day", type=DAY, metavar="DATE", help="The day of the exam.")
@click.option(
    "--blueprint",
    "areas",
    multiple=True,
    metavar="AREA=N",
    help="One area and its questions in the exam; may be repeated.",
)
@click.option("--timezone", default="", metavar="ZONE", help="Such as Europe/London.")
@with_call
def command(
    call: Call,
    folder: Path,
    exam_name: str | None,
    exam_day: date | None,
    areas: tuple[str, ...],
    timezone: str,
) -> None:
    """Make a new base in FOLDER (this folder if none is named).

    Asks for the exam's date and blueprint, or takes them as options. Without --blueprint a usual
    blueprint of general medicine is written, to be changed.
    """
    from kb.formats.exam import check_day, format_exam, parse_exam
    from kb.formats.study import format_study
    from kb.services.base_setup import check_no_base, make_base

    folder = Path(call.ctx.params["base_folder"] or folder)
    check_no_base(folder)
    day = call.as_of or today()
    if exam_day is None:
        if not interactive():
            raise KBError("the exam's date is missing", hint="give it with --date 2027-05-11")
        exam_day = click.prompt("Day of the exam (2027-05-11)", type=DAY)
    check_day(exam_day, day, "--date")
    if exam_day < day:
        say(f"the exam's date, {exam_day.isoformat()}, has passed; exam.yaml says so for now")
    if exam_name is None:
        exam_name = click.prompt("Name of the exam", "the exam") if interactive() else "the exam"
    blueprint = _blueprint(areas) or _ask_blueprint()
    text = format_exam(exam_name, exam_day, blueprint)
    exam, problems = parse_exam(text, "exam.yaml")
    if exam is None or problems:
        first = problems[0]
        raise FormatError(first.message, hint=first.hint, place=Place("--blueprint"))
    make_base(folder, text, format_study(timezone or "UTC"))
    call.answer(
        {"base": str(folder), "exam_date": exam_day, "items": exam.item_count},
        f"A new base in {folder.resolve()}",
        f"{len(exam.areas)} areas, {exam.item_count} exam questions, {(exam_day - day).days} days.",
        "",
        "Next: name your sources in study.yaml, then log the first block:",
        "  missbook log block north 1-40 --area cardiology --wrong 3,17,22",
        "",
        CAUTION,
    )


def _blueprint(given: Iterable[str]) -> tuple[Area, ...]:
    areas: list[Area] = []
    for text in given:
        name, equals, items = text.partition("=")
        if not equals or not name.strip() or not items.strip().isdigit():
            hint = "write a name, an equals sign and a number, such as cardiology=19"
            raise KBError(f"--blueprint: '{text}' is not an area with its questions", hint=hint)
        areas.append(_area(name.strip().casefold(), "", int(items)))
    return tuple(areas)


def _area(area: str, name: str, items: int) -> Area:
    shown = name or area.replace("-", " ").capitalize()
    return Area(id=AreaId(area), name=shown, item_count=items)


def _ask_blueprint() -> tuple[Area, ...]:
    usual = tuple(_area(*row) for row in STARTING_BLUEPRINT)
    if not interactive():
        return usual
    echo("Areas with their items, such as: cardiology=19 neurology=18")
    answer = click.prompt(
        "Blueprint (Enter for a usual one, to be changed)", "", show_default=False
    )
    return _blueprint(answer.replace(",", " ").split()) or usual
