"""Make a new base: exam.yaml and study.yaml, every line explained."""

from collections.abc import Iterable
from datetime import date, timedelta
from pathlib import Path

import click

from kb.cli.call import Call, today, with_call
from kb.cli.cmd_rota import meanings_of, shifts_in
from kb.cli.params import DAY, Whole, interactive, say, width
from kb.core.errors import FormatError, KBError, Place, QueryError, nearest
from kb.core.ids import AreaId, parse_question, whole_number
from kb.core.settings import Area
from kb.core.wording import CAUTION, counted, listed
from kb.formats import exam as exam_format
from kb.formats.rota import STARTING_SHIFTS, format_week
from kb.formats.study import format_sources, format_study

OFFICE_WEEK = "day day day day day off off"


@click.command(name="new")
@click.argument("folder", type=click.Path(path_type=Path), default=Path())
@click.option("--exam", "exam_name", metavar="NAME", help="What the exam is called.")
@click.option("--date", "exam_day", type=DAY, metavar="DATE", help="The day of the exam.")
@click.option(
    "--blueprint",
    "areas",
    multiple=True,
    metavar="AREA=N",
    help="general, sciences or community; or an area and its questions, to be repeated.",
)
@click.option(
    "--source",
    "sources",
    multiple=True,
    metavar="NAME=N",
    help="A bank or paper and how many questions it has; may be repeated.",
)
@click.option(
    "--rota", metavar="WEEK|FILE", help="Seven shifts from Monday on, or a calendar file."
)
@click.option("--free-minutes", type=Whole(0, 960), metavar="MINUTES", help="Study on a day off.")
@click.option(
    "--work-minutes", type=Whole(0, 960), metavar="MINUTES", help="Study on a working day."
)
@click.option("--timezone", default="UTC", metavar="ZONE", help="Such as Europe/London.")
@with_call
def command(
    call: Call,
    folder: Path,
    exam_name: str | None,
    exam_day: date | None,
    areas: tuple[str, ...],
    sources: tuple[str, ...],
    rota: str | None,
    free_minutes: int | None,
    work_minutes: int | None,
    timezone: str,
) -> None:
    """Make a new base in FOLDER (this folder if none is named).

    Asks for what is not given as an option. Blueprints to start from are general (medicine),
    sciences (with basic science, genetics, immunology, ethics and communication) and community.

    A folder of Markdown notes is taken as it is. A note without an area gets that of its folder, if
    the folder has an area's name.
    """
    from kb.services.base_setup import check_no_base, create_base

    folder = Path(call.base_folder or folder)
    check_no_base(folder)
    day = call.as_of or today()
    if exam_day is None:
        if not interactive():
            raise KBError("the exam's date is missing", hint="give it with --date 2027-05-11")
        exam_day = click.prompt("Day of the exam, such as 2027-05-11", type=DAY)
    exam_format.check_day(exam_day, day, "--date")
    if exam_day < day:
        say(f"the exam's date, {exam_day.isoformat()}, has passed; exam.yaml says so for now")
    exam_name = exam_name or _asked("Name of the exam", "the exam")
    names = listed(tuple(exam_format.templates()), "or")
    question = f"Blueprint: {names}, or areas such as cardiology=19"
    areas = areas or _words(_asked(question, "general"))
    sources = sources or _words(_asked("Question sources, such as north=2800 paper-1=200", ""))
    rota = rota or _asked("Usual week of shifts, or a calendar file", "")
    if interactive() and free_minutes is None and work_minutes is None:
        free_minutes = int(click.prompt("Minutes of study on a day off", 240, type=Whole(0, 960)))
        work_minutes = int(click.prompt("And on a working day", 120, type=Whole(0, 960)))
    text = exam_format.format_exam(exam_name, exam_day, _blueprint(areas))
    exam, problems = exam_format.parse_exam(text, "exam.yaml")
    if exam is None or problems:
        first = problems[0]
        raise FormatError(first.message, hint=first.hint, place=Place("--blueprint"))
    calendar = Path(rota) if rota and Path(rota).suffix.casefold() == ".ics" else None
    week = OFFICE_WEEK if calendar or not rota else rota
    written = bool(rota) or free_minutes is not None or work_minutes is not None
    rota_lines = _week(week, day, free_minutes, work_minutes) if written else ""
    banks = _sources(sources)
    study = format_study(timezone, format_sources(banks), rota_lines)
    create_base(folder, text, study)
    call.base_folder = str(folder)
    taken = _take_in(call, calendar)
    source = next(iter(banks), "north")
    call.answer(
        {"base": str(folder), "exam_date": exam_day, "items": exam.item_count},
        f"A new base in {folder.resolve()}",
        f"{len(exam.areas)} areas, {exam.item_count} exam questions, {(exam_day - day).days} days.",
        *taken,
        "",
        *([] if banks else ["Name your question sources in study.yaml, under sources:."]),
        "Next: log a first block, and write a note for each miss:",
        f"  missbook log block {source} 1-40 --area {exam.areas[0].id} --wrong 3,17,22",
        "  missbook note --next",
        "",
        click.wrap_text(CAUTION, width()),
    )


def _take_in(call: Call, calendar: Path | None) -> list[str]:
    """Take in the notes that are in the folder, and the calendar; returns lines on both."""
    from kb.services.note_editing import give_areas
    from kb.services.settings_editing import set_rota_days

    session = call.open()
    lines = []
    if count := len(session.whole.notes):
        given, bare = give_areas(session)
        lines.append(f"{counted(count, 'note')} taken as they are")
        if given:
            lines.append(f"{counted(given, 'note')} got the area of the folder")
        if bare:
            lines.append(f"{counted(bare, 'note')} without an area: missbook check lists them")
    if calendar:
        found = shifts_in(session, calendar, meanings_of(session, ()), all_day=False)
        words = dict(found.words)
        set_rota_days(session, dict(found.days), words, file=calendar.name, first=found.first)
        lines.append(f"{counted(len(found.days), 'day')} from {calendar}")
    return lines


def _asked(question: str, usual: str) -> str:
    """The answer to a question; `usual` where there is no terminal to ask at."""
    if not interactive():
        return usual
    answer: str = click.prompt(question, default=usual, show_default=bool(usual))
    return answer.strip()


def _words(text: str) -> tuple[str, ...]:
    return tuple(text.replace(",", " ").split())


def _blueprint(given: Iterable[str]) -> tuple[Area, ...]:
    templates = exam_format.templates()
    areas: list[Area] = []
    for text in given:
        if text.strip().casefold() in templates:
            areas += templates[text.strip().casefold()]
            continue
        name, items = _pair(text)
        if not name:
            hint = "write a name, an equals sign and a number, such as cardiology=19"
            if meant := nearest(text, templates):
                hint = f"{hint}; or {', '.join(templates)} ({meant})"
            raise KBError(f"--blueprint: '{text}' is not an area with its questions", hint=hint)
        shown = name.replace("-", " ").capitalize()
        areas.append(Area(id=AreaId(name), name=shown, item_count=items))
    return tuple(areas)


def _pair(text: str) -> tuple[str, int]:
    """The name and the number of `cardiology=19`; no name if it is not of that form."""
    name, _, number = (part.strip() for part in text.casefold().partition("="))
    items = whole_number(number)
    return (name, items) if name and items is not None else ("", 0)


def _sources(given: Iterable[str]) -> dict[str, int]:
    found: dict[str, int] = {}
    for text in given:
        name, items = _pair(text)
        if parse_question(f"{name}:1") is None:
            hint = "write a short name, an equals sign and how many questions, such as north=2800"
            raise QueryError(f"--source: '{text}' is not a source with its size", hint=hint)
        found[name] = items
    return found


def _week(text: str, day: date, free_minutes: int | None, work_minutes: int | None) -> str:
    """Lines of study.yaml for a week that begins on the Monday before."""
    shifts = [word.casefold() for word in _words(text)]
    known = [shift.name for shift in STARTING_SHIFTS]
    for shift in shifts:
        if shift not in known:
            hint = f"the shifts are {', '.join(known)}; study.yaml can name others"
            raise QueryError(f"--rota: there is no shift '{shift}'", hint=hint)
    if len(shifts) % 7:
        hint = f"such as: {OFFICE_WEEK}"
        message = f"--rota: {counted(len(shifts), 'shift')}; a week has seven"
        raise QueryError(message, hint=hint)
    monday = day - timedelta(days=day.weekday())
    return format_week(shifts, monday, free_minutes, work_minutes)
