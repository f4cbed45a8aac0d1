"""Rename an area, a source, a concept or the questions of a bank."""

from dataclasses import asdict
from pathlib import Path
from typing import cast

import click

from kb.cli.call import Call, with_call
from kb.cli.params import OneOf
from kb.core.errors import QueryError
from kb.core.ids import RenameKind
from kb.services.renaming import rename, rename_items
from kb.services.user_files import read_file


@click.command(name="rename")
@click.argument("kind", type=OneOf(("area", "source", "concept", "items")))
@click.argument("old", metavar="OLD|FILE")
@click.argument("new", default="", metavar="[NEW]")
@click.option("--source", default="", metavar="SOURCE", help="With items: of bare numbers.")
@click.option("--dry-run", is_flag=True, help="Show what would change.")
@with_call
def command(call: Call, kind: str, old: str, new: str, source: str, dry_run: bool) -> None:
    """Rename an area, a source, a concept or questions.

    Settings and notes are rewritten. The log is never edited: its lines count under the new name.
    missbook undo takes it all back.

    For items of a bank that was renumbered, FILE is a CSV with the old and the new number in each
    line. Answers from before now are counted under the new numbers; those you log from now on have
    them already.
    """
    session = call.session
    if kind == "items":
        from kb.importers.table_reader import decoded

        text, _ = decoded(read_file(Path(old)), old)
        done = rename_items(session, text, old, source, dry_run=dry_run)
    elif new and not source:
        done = rename(session, cast("RenameKind", kind), old, new, dry_run=dry_run)
    else:
        hint = f"such as: missbook rename {kind} OLD NEW"
        raise QueryError("name the old one, then the new one", hint=hint)
    (first, other), *more = done.names.items()
    what = f"{len(done.names)} questions get new numbers" if more else f"{first} becomes {other}"
    call.answer(
        {**asdict(done), "recorded": not dry_run},
        f"{what}{' (nothing was changed yet)' if dry_run else ''}",
        *done.told(),
        *([] if dry_run else ["To undo this: missbook undo"]),
    )
