"""Log a table of answers, CSV or spreadsheet."""

import csv
import io
from dataclasses import replace
from datetime import date
from itertools import count
from pathlib import Path

import click

from kb.cli.call import Call, with_call
from kb.cli.logged import ask_day, checked_day, day_of, keep_lines, log_and_show, repeat_option
from kb.cli.params import DAY, interactive, say, width
from kb.cli.patient_check import no_patient_option
from kb.core.errors import QueryError
from kb.core.lookup import source_to_log
from kb.core.renames import named_now
from kb.core.wording import counted
from kb.importers.column_mapping import (
    Columns,
    column_of,
    given_columns,
    guess_columns,
    missing,
    remembered_columns,
    unclear,
)
from kb.importers.reconcile import compare
from kb.importers.table_reader import Grid, read_table
from kb.importers.table_rows import TableAnswers, TableRows
from kb.presentation.table_preview import dry_report
from kb.services.rejected_lines import none_understood
from kb.services.session import Session
from kb.services.settings_editing import remember_columns

ANY_SOURCE = "all"
"""The name under which the columns of tables with a source column are remembered."""
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
@repeat_option
@no_patient_option
@with_call
def command(
    call: Call,
    file: Path,
    source: str,
    pairs: tuple[str, ...],
    day: date | None,
    encoding: str,
    sheet: str,
    dry_run: bool,
    again: bool,
    no_patient: bool,
) -> None:
    """Log the answers in a table, a CSV file or a workbook.

    FILE may come from any source; a workbook is an .xlsx file.

    Which column is what is asked once and remembered in study.yaml. Fields: item (or question,
    a whole reference), outcome (or chosen and key), source, date, time, first, certainty, seconds,
    reason, round, sitting, area, concept, remark.
    """
    from kb.services.user_files import read_file

    session = call.session
    grid = read_table(read_file(file), str(file), encoding=encoding, sheet=sheet)
    source = source_to_log(session.base, source) if source else ""
    columns = _columns(session, grid, source, pairs)
    source = _source(session, columns, source)
    done = count(1)
    found = TableRows(
        grid=grid,
        columns=columns,
        exam=session.exam,
        study=session.study,
        source=source,
        today=session.today,
        day=checked_day(session, day) or _day_of_undated(session, grid, columns, file),
        no_patient=no_patient,
    ).answers(lambda: session.watch("Reading rows", next(done), len(grid.rows)))
    if not found.drafts:
        _say_reading(found, columns, grid)
        raise none_understood(str(file), len(found.left), found.problems)
    logged = () if again else session.whole.attempts
    named = named_now(found.drafts, session.whole)
    changes = compare(found.drafts, logged, named, timed=found.timed)
    if dry_run:
        from kb.core.base_views import with_areas

        limit = None if call.as_json else SHOWN_ROWS
        numbered = tuple(
            new if new.area else replace(new, area=session.study.area_of(new.question))
            for new in changes.new
        )
        changes = replace(changes, new=tuple(with_areas(numbered, session.base.notes)))
        left_count, notes = len(found.left), found.notes
        call.show(dry_report(session.exam, changes, found.problems, left_count, notes, limit))
        return
    _say_found(found, columns, grid)
    if found.left:
        keep_lines(session, str(file), _csv(grid, found), len(found.left))
    named_columns = {field: grid.header[at] for field, at in columns.items()}
    if remember_columns(session, source or ANY_SOURCE, named_columns):
        say(f"The columns are remembered in study.yaml, under tables: {source or ANY_SOURCE}.")
    changed = tuple(draft for _, draft in changes.changed)
    log_and_show(
        call,
        (*changes.new, *changed),
        title=f"table {file.name}",
        left_count=len(found.left),
        again=again,
        day_only=not found.timed,
        known_count=len(changes.known),
        replaced=tuple(old.id for old, _ in changes.changed),
    )


def _day_of_undated(session: Session, grid: Grid, columns: Columns, file: Path) -> date:
    """The day of rows without a date, which is asked for.

    Raises:
        QueryError: There are such rows, and no terminal to ask at.
    """
    at = columns.get("date")
    undated = sum(at is None or at >= len(row.cells) or not row.cells[at] for row in grid.rows)
    if session.as_of is not None or not undated:
        return session.today
    what = f"{counted(undated, 'row')} without a date"
    if not interactive():
        raise QueryError(f"{file}: {what}", hint="give their day with --day, such as 2027-02-14")
    return ask_day(what, day_of(session, file))


def _columns(session: Session, grid: Grid, source: str, pairs: tuple[str, ...]) -> Columns:
    """Which column is what: as given, or as last time, or as guessed and confirmed."""
    given = given_columns(pairs, grid.header)
    wanted = (source, ANY_SOURCE) if source else (ANY_SOURCE,)
    for name in wanted:
        for table in session.study.tables:
            found = remembered_columns(dict(table.columns), grid.header)
            if table.source == name and found is not None:
                return {**found, **given}
    guessed = guess_columns(grid.header, [row.cells for row in grid.rows])
    columns = {field: at for field, at in guessed.items() if at not in given.values()} | given
    doubtful = unclear(columns, grid.header) if "chosen" not in given else None
    if doubtful is not None:
        name = grid.header[columns.pop("chosen")]
        say(f"'{name}' is left out: it may be your option or the key.")
        say(f"Say which: --map chosen={name} or --map key={name}")
    if interactive() and not given:
        return _ask(grid, columns)
    lacking = missing(columns)
    if lacking:
        hint = "give it with --map, such as --map item=1; its columns are: "
        raise QueryError(f"not known: {lacking}", hint=hint + ", ".join(grid.header))
    return columns


def _ask(grid: Grid, columns: Columns) -> Columns:
    """Show the first rows and the guess, and let the person correct it."""
    say(f"Read as: {', '.join(grid.notes)}. The first rows:\n")
    for number, name in enumerate(grid.header, start=1):
        cells = [row.cells[number - 1] for row in grid.rows[:3] if number <= len(row.cells)]
        say(f"{number:3} {name[:24]:24} {' | '.join(cell[:16] for cell in cells)}")
    while True:
        say("")
        for field, at in columns.items():
            say(f"    {field} = {grid.header[at]}")
        lacking = missing(columns)
        if lacking:
            say(f"Still not known: {lacking}.")
        way = "correct a column: item=3; remark= drops one"
        question = way.capitalize() if lacking else f"Enter accepts this; or {way}"
        answer = click.prompt(question, default="", show_default=False, err=True).strip()
        if not answer and not lacking:
            return columns
        try:
            for pair in answer.split(","):
                field, sign, name = (part.strip() for part in pair.partition("="))
                if sign and not name:
                    columns.pop(field.casefold(), None)
                elif field:
                    given_columns([pair], grid.header)
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


def _say_reading(found: TableAnswers, columns: Columns, grid: Grid) -> None:
    pairs = ", ".join(f"{field} = {grid.header[at]}" for field, at in columns.items())
    say(click.wrap_text(f"Read as: {', '.join(found.notes)}; {pairs}.", width(), "", "  "))


def _say_found(found: TableAnswers, columns: Columns, grid: Grid) -> None:
    _say_reading(found, columns, grid)
    for problem in found.problems[:SHOWN_ROWS]:
        say(str(problem))
    if len(found.problems) > SHOWN_ROWS:
        say(f"... and {len(found.problems) - SHOWN_ROWS} more; --dry-run --json lists them all")


def _csv(grid: Grid, found: TableAnswers) -> str:
    """The rows that are left out, under their header."""
    lines = {line for line, _ in found.left}
    buffer = io.StringIO()
    writer = csv.writer(buffer, delimiter=grid.separator)
    writer.writerow(grid.header)
    writer.writerows(row.cells for row in grid.rows if row.line in lines)
    return buffer.getvalue()
