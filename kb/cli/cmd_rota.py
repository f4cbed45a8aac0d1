"""The rota: what it leaves for study, where rest is short, and taking it from a calendar."""

from __future__ import annotations

from datetime import timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from kb.cli.params import Whole, common, open_session, say, width

if TYPE_CHECKING:
    from datetime import date

    from kb.services.session import Session


@click.command(name="rota")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), required=False)
@click.option(
    "--days",
    type=Whole(1),
    default=28,
    metavar="DAYS",
    help="How many days to show.",
    show_default=True,
)
@click.option(
    "--word",
    "words",
    multiple=True,
    metavar="WORDS=SHIFT",
    help="These words of an event mean this shift; remembered in study.yaml.",
)
@click.option("--dry-run", is_flag=True, help="Show what FILE would add, and add nothing.")
@common
@click.pass_context
def command(
    ctx: click.Context,
    file: Path | None,
    days: int,
    words: tuple[str, ...],
    dry_run: bool,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Show what the rota leaves for study, or import a new one.

    FILE is the rota in iCalendar form.

    Days from the file become exceptions in study.yaml, and the words of its events are remembered
    there for the next time. Nothing else in the file changes.
    """
    from kb.cli.report_command import show
    from kb.core.wording import counted
    from kb.presentation.render import Shown, to_json

    session = open_session(ctx, base_folder, as_of)
    if file is None:
        report = session.report("rota", {"days": days})
        show(report, session.today, as_json=as_json, shown=Shown(width=width()))
        return
    taken = _take(session, file, words, dry_run=dry_run)
    if as_json:
        click.echo(to_json(taken), nl=False)
        return
    for day, name in taken["days"]:
        click.echo(f"{day.isoformat()}  {name}")
    done = "would be set" if dry_run else "set in study.yaml"
    click.echo(f"{counted(len(taken['days']), 'day')} {done}")


def _take(session: Session, file: Path, words: tuple[str, ...], *, dry_run: bool) -> dict[str, Any]:
    """Read the file, say what is not understood, and write the days into study.yaml."""
    from kb.core.errors import FormatError, Place, QueryError, nearest
    from kb.formats.rota import STARTING_SHIFTS, set_entries
    from kb.formats.yaml_fields import plain
    from kb.importers.rota_calendar import read_events, take_rota
    from kb.storage import atomic_files
    from kb.storage.base_folder import edit_study

    rota = session.study.rota
    shifts = rota.shifts if rota else STARTING_SHIFTS
    remembered = dict(rota.calendar_words if rota else ())
    names = {shift.name for shift in shifts}
    for word in words:
        said, _, name = word.rpartition("=")
        if not said.strip() or name.strip().casefold() not in names:
            hint = nearest(name.strip(), names)
            raise QueryError(f"--word: '{word}' names no known shift", hint=hint)
        remembered[" ".join(said.casefold().split())] = name.strip().casefold()
    last = session.exam.date + timedelta(days=28)
    events = read_events(
        atomic_files.read_bytes(file, str(file)),
        str(file),
        zone=session.study.timezone,
        first=session.today,
        last=last,
    )
    taken = take_rota(events, str(file), shifts, remembered)
    for problem in taken.problems:
        say(str(problem))
    if not taken.days:
        span = f"from {session.today.isoformat()} to {last.isoformat()}"
        message = "none of its events is a shift" if events else f"it has no event {span}"
        raise FormatError(f"{message}; nothing was set", place=Place(str(file)))
    if not dry_run:
        days = tuple((day.isoformat(), name) for day, name in taken.days)
        kept = {**remembered, **dict(taken.words)}
        said_words = tuple((plain(said), name) for said, name in sorted(kept.items()))

        def edit(text: str) -> str:
            text = set_entries(text, ("rota", "exceptions"), days)
            return set_entries(text, ("rota", "calendar_words"), said_words)

        edit_study(session.root, edit)
        session.reload()
    return {"days": taken.days, "words": taken.words, "unknown_count": len(taken.problems)}
