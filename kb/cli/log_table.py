"""Log a table of answers, CSV or spreadsheet."""

from __future__ import annotations

import csv
import io
from contextlib import contextmanager
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from kb.cli.logged import log_and_show
from kb.cli.params import DAY, common, interactive, open_session, say, width
from kb.cli.rejected_lines import keep_beside, none_taken
from kb.cli.report_command import show
from kb.core.errors import QueryError
from kb.core.lookup import source_to_log
from kb.importers.column_mapping import (
    column_of,
    guess_columns,
    missing,
    remembered_columns,
    told_columns,
)
from kb.importers.reconcile import compare
from kb.importers.table_reader import Grid, read_table
from kb.importers.table_rows import take_rows
from kb.presentation.render import Shown
from kb.presentation.table_preview import dry_report

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from datetime import date

    from kb.importers.column_mapping import Columns
    from kb.importers.table_rows import Taken
    from kb.services.session import Session

LONG = 1000
"""From this many rows on a bar shows how far it is."""
ANY_SOURCE = "all"
"""Under this name the columns of tables that name their sources are remembered."""
SHOWN_ROWS = 10


@click.command(name="table")
@click.argument("file", type=click.Path(path_type=Path))
@click.option("--source", default="", metavar="SOURCE", help="Where its questions come from.")
@click.option(
    "--map",
    "pairs",
    multiple=True,
    metavar="FIELD=COLUMN",
    help="Such as item=Number; may be repeated. Remembered for the source.",
)
@click.option("--day", type=DAY, metavar="DATE", help="The day of rows that have no date.")
@click.option("--encoding", default="", metavar="NAME", help="Of a CSV file. Default: worked out.")
@click.option("--worksheet", "sheet", default="", metavar="NAME", help="Default: the first.")
@click.option("--dry-run", is_flag=True, help="Show what would be added, changed and left.")
@click.option("--repeat", "again", is_flag=True, help="Log it again: done twice that day.")
@click.option("--no-patient", is_flag=True, help="What looks like a patient's details is not.")
@common
@click.pass_context
def command(
    ctx: click.Context,
    file: Path,
    source: str,
    pairs: tuple[str, ...],
    day: date | None,
    encoding: str,
    sheet: str,
    dry_run: bool,
    again: bool,
    no_patient: bool,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Log the answers in a table, a CSV file or a workbook.

    FILE may come from any source; a workbook is an .xlsx file.

    Which column is what is asked once and remembered in study.yaml. Fields: item (or question,
    a whole reference), outcome (or chosen and key), source, date, time, first, certainty, seconds,
    reason, round, sitting, area, concept, remark.
    """
    from kb.storage.atomic_files import read_bytes

    session = open_session(ctx, base_folder, as_of)
    grid = read_table(read_bytes(file, str(file)), str(file), encoding=encoding, sheet=sheet)
    source = source_to_log(session.base, source) if source else ""
    columns = _columns(session, grid, source, pairs)
    source = _source(session, columns, source)
    with _bar(len(grid.rows)) as step:
        taken = take_rows(
            grid,
            columns,
            session.exam,
            session.study,
            source=source,
            today=session.today,
            day=day or _file_day(session, file, as_of),
            no_patient=no_patient,
            step=step,
        )
    if not taken.drafts:
        _say_reading(taken, columns, grid)
        raise none_taken(str(file), len(taken.left), "answers", taken.problems)
    changes = compare(taken.drafts, () if again else session.whole.attempts, timed=taken.timed)
    if dry_run:
        from kb.core.base_views import with_areas

        limit = None if as_json else SHOWN_ROWS
        numbered = tuple(
            new if new.area else replace(new, area=session.study.area_of(new.question))
            for new in changes.new
        )
        changes = replace(changes, new=with_areas(numbered, session.base.notes))
        report = dry_report(changes, taken.problems, len(taken.left), taken.told, limit)
        show(report, session.today, as_json=as_json, shown=Shown(width=width()))
        return
    _say_taken(taken, columns, grid)
    if taken.left:
        keep_beside(session, str(file), _csv(grid, taken), len(taken.left))
    _remember(session, grid, columns, source or ANY_SOURCE)
    changed = tuple(draft for _, draft in changes.changed)
    log_and_show(
        session,
        (*changes.new, *changed),
        title=f"table {file.name}",
        as_json=as_json,
        left_count=len(taken.left),
        again=again,
        day_only=not taken.timed,
        known_count=len(changes.known),
        replaced=tuple(old.id for old, _ in changes.changed),
    )


def _file_day(session: Session, file: Path, as_of: date | None) -> date:
    if as_of is not None:
        return as_of
    modified = datetime.fromtimestamp(file.stat().st_mtime, session.now.tzinfo).date()
    return min(modified, session.today)


def _columns(session: Session, grid: Grid, source: str, pairs: tuple[str, ...]) -> Columns:
    """Which column is what: as told, else as last time, else as guessed and confirmed."""
    told = told_columns(pairs, grid.header)
    wanted = (source, ANY_SOURCE) if source else (ANY_SOURCE,)
    for name in wanted:
        for table in session.study.tables:
            found = remembered_columns(dict(table.columns), grid.header)
            if table.source == name and found is not None:
                return {**found, **told}
    guessed = {
        field: at for field, at in guess_columns(grid.header).items() if at not in told.values()
    }
    columns = {**guessed, **told}
    if interactive() and not told:
        return _ask(grid, columns)
    lacking = missing(columns)
    if lacking:
        hint = "give it with --map, such as --map item=1; its columns are: "
        raise QueryError(f"not known: {lacking}", hint=hint + ", ".join(grid.header))
    return columns


def _ask(grid: Grid, columns: Columns) -> Columns:
    """Show the first rows and the guess, and let the person mend it."""
    say(f"Read as: {', '.join(grid.told)}. The first rows:\n")
    for number, name in enumerate(grid.header, start=1):
        cells = [row.cells[number - 1] for row in grid.rows[:3] if number <= len(row.cells)]
        say(f"{number:3} {name[:24]:24} {' | '.join(cell[:16] for cell in cells)}")
    while True:
        say("")
        for field, at in columns.items():
            say(f"    {field} = {grid.header[at]}")
        lacking = missing(columns)
        say(f"Still not known: {lacking}." if lacking else "Enter takes it so.")
        said = "Or correct it (item=3, remark= to drop one)"
        answer = click.prompt(said, default="", show_default=False, err=True).strip()
        if not answer and not lacking:
            return columns
        try:
            for pair in answer.split(","):
                field, sign, name = (part.strip() for part in pair.partition("="))
                if sign and not name:
                    columns.pop(field.casefold(), None)
                elif field:
                    told_columns([pair], grid.header)
                    columns[field.casefold()] = column_of(name, grid.header)
        except QueryError as error:
            say(str(error))


def _source(session: Session, columns: Columns, source: str) -> str:
    if source or "source" in columns or "question" in columns:
        return source
    if interactive():
        return source_to_log(session.base, click.prompt("Source of these questions", err=True))
    known = ", ".join(one.id for one in session.study.sources)
    hint = f"name it with --source; declared are: {known}" if known else "name it with --source"
    raise QueryError("which source are these questions from?", hint=hint)


@contextmanager
def _bar(count: int) -> Iterator[Callable[[], None]]:
    """A progress bar on standard error when there is much to do."""
    if count <= LONG:
        yield lambda: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True)) as progress:
        task = progress.add_task("Reading rows", total=count)
        yield lambda: progress.advance(task)


def _say_reading(taken: Taken, columns: Columns, grid: Grid) -> None:
    pairs = ", ".join(f"{field} = {grid.header[at]}" for field, at in columns.items())
    say(click.wrap_text(f"Read as: {', '.join(taken.told)}; {pairs}.", width(), "", "  "))


def _say_taken(taken: Taken, columns: Columns, grid: Grid) -> None:
    _say_reading(taken, columns, grid)
    for problem in taken.problems[:SHOWN_ROWS]:
        say(str(problem))
    if len(taken.problems) > SHOWN_ROWS:
        say(f"... and {len(taken.problems) - SHOWN_ROWS} more; --dry-run --json lists them all")


def _csv(grid: Grid, taken: Taken) -> str:
    """The rows that are left out, under their header."""
    lines = {line for line, _ in taken.left}
    buffer = io.StringIO()
    writer = csv.writer(buffer, delimiter=grid.separator)
    writer.writerow(grid.header)
    writer.writerows(row.cells for row in grid.rows if row.line in lines)
    return buffer.getvalue()


def _remember(session: Session, grid: Grid, columns: Columns, source: str) -> None:
    """Write the columns into study.yaml if they are not there; all else in it stays."""
    from kb.formats.study import with_columns
    from kb.storage.base_folder import edit_study

    named = {field: grid.header[at] for field, at in columns.items()}
    known = next((table for table in session.study.tables if table.source == source), None)
    if known is not None and named.items() <= dict(known.columns).items():
        return
    entries = tuple(named.items())
    edit_study(session.root, lambda text: with_columns(text, "study.yaml", source, entries))
    session.reload()
    say(f"The columns are remembered in study.yaml, under tables: {source}.")
