"""The rota: what it leaves for study, where rest is short, and taking it from a calendar."""

from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import click

from kb.cli.call import Call, with_call
from kb.cli.params import Whole, say
from kb.core.errors import FormatError, Place, QueryError, nearest
from kb.core.lookup import spelt
from kb.core.wording import counted
from kb.formats.rota import STARTING_SHIFTS
from kb.importers.rota_calendar import CalendarShifts
from kb.services.session import Session

DAYS_AFTER_EXAM = timedelta(days=28)
"""How long after the exam a calendar is still read."""
MOST_SHOWN = 10
"""Events that are left out and named; a broken calendar may have thousands."""
DAYS_BEFORE = timedelta(days=31)
"""A calendar with an event in these days before today speaks from today on."""


@click.command(name="rota")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), required=False)
@click.option(
    "--days", type=Whole(1), default=28, metavar="DAYS", help="Days to show.", show_default=True
)
@click.option(
    "--word",
    "words",
    multiple=True,
    metavar="WORDS=SHIFT",
    help="These words in a title mean this shift; remembered in study.yaml.",
)
@click.option("--all-day", is_flag=True, help="All-day events count before those with hours.")
@click.option("--dry-run", is_flag=True, help="Show what FILE would add, and add nothing.")
@with_call
def command(
    call: Call, file: Path | None, days: int, words: tuple[str, ...], all_day: bool, dry_run: bool
) -> None:
    """Show what the rota leaves for study, or import a new one.

    FILE is the rota in iCalendar form. Its days become exceptions in study.yaml, and --word is
    remembered there for next time. A day that a file of the same name brought before, and that it
    no longer has, is removed. Nothing else in study.yaml changes.
    """
    if file is None:
        call.show(call.session.report("rota", {"days": days}))
        return
    from kb.services.settings_editing import set_rota_days

    session = call.session
    meanings = meanings_of(session, words)
    shifts = shifts_in(session, file, meanings, all_day=all_day)
    done = set_rota_days(
        session, dict(shifts.days), meanings, file=file.name, first=shifts.first, dry_run=dry_run
    )
    if not (shifts.days or done.removed):
        span = f"from {session.today} to {session.exam.date + DAYS_AFTER_EXAM}"
        message = (
            "no event was recognised as a shift" if shifts.problems else f"it has no event {span}"
        )
        raise FormatError(f"{message}; nothing changed", place=Place(str(file)))
    content = {
        "days": done.set,
        "removed": done.removed,
        "kept": done.kept,
        "words": shifts.words,
        "unknown_count": len(shifts.problems),
    }
    would, would_be = ("would be ", "would be set") if dry_run else ("", "set in study.yaml")
    gone = f", {len(done.removed)} {would}removed" if done.removed else ""
    call.answer(
        content,
        *(f"{day.isoformat()}  {name}" for day, name in done.set),
        *(f"{day.isoformat()}  {name} is no longer in it: removed" for day, name in done.removed),
        *(f"{day.isoformat()}  {name} stays, as you noted it" for day, name in done.kept),
        f"{counted(len(done.set), 'day')} {would_be}{gone}",
    )


def meanings_of(session: Session, words: tuple[str, ...]) -> dict[str, str]:
    """Which words of an event mean which shift: as remembered, and as given now.

    Raises:
        QueryError: There is no such shift.
    """
    rota = session.study.rota
    names = {shift.name for shift in (rota.shifts if rota else STARTING_SHIFTS)}
    found = dict(rota.calendar_words if rota else ())
    for word in words:
        event, _, given = word.rpartition("=")
        name = given.strip().casefold()
        if not event.strip() or name not in names:
            hint = nearest(given.strip(), names)
            raise QueryError(f"--word: '{word}' names no known shift", hint=hint)
        found[spelt(event)] = name
    return found


def shifts_in(
    session: Session, file: Path, meanings: dict[str, str], *, all_day: bool
) -> CalendarShifts:
    """The shifts in a calendar file from today on; an event that is not understood is named."""
    from kb.importers.rota_calendar import read_events, shifts_of
    from kb.services.user_files import read_file

    rota, today = session.study.rota, session.today
    last = session.exam.date + DAYS_AFTER_EXAM
    zone = session.study.timezone
    since = today - DAYS_BEFORE
    read = read_events(read_file(file), str(file), zone=zone, first=since, last=last)
    events = tuple(event for event in read.events if event.day >= today)
    shifts = rota.shifts if rota else STARTING_SHIFTS
    found = shifts_of(events, str(file), shifts, meanings, all_day_first=all_day)
    begins = max(today, min((event.day for event in read.events), default=today))
    found = replace(found, problems=(*read.problems, *found.problems), first=begins)
    for problem in found.problems[:MOST_SHOWN]:
        say(str(problem))
    if more := len(found.problems[MOST_SHOWN:]):
        say(f"... and {more} more that are left out")
    return found
