"""Rename an area, a source, a concept or the questions of a bank."""

from pathlib import Path

import click

from kb.cli.call import Call, with_call
from kb.cli.params import Named
from kb.core.ids import RenameKind
from kb.services.renaming import Renaming, rename, rename_items
from kb.services.user_files import read_file

dry_run_option = click.option("--dry-run", is_flag=True, help="Show what would change.")
HELP = {
    "area": "Rename an area: in exam.yaml, study.yaml, notes and log.",
    "source": "Rename a source of questions: in study.yaml, notes and log.",
    "concept": "Rename a concept: in notes and log.",
}


@click.group(name="rename", cls=Named)
def command() -> None:
    """Rename an area, a source, a concept or questions.

    Settings and notes are rewritten. The log is never edited: its lines count under the new name.
    missbook undo takes it all back.
    """


def _command(kind: RenameKind) -> click.Command:
    """The command that renames one kind of thing."""

    @click.argument("old")
    @click.argument("new")
    @dry_run_option
    @with_call
    def run(call: Call, old: str, new: str, dry_run: bool) -> None:
        _show(call, rename(call.session, kind, old, new, dry_run=dry_run), dry_run=dry_run)

    return click.command(name=kind, help=HELP[kind])(run)


command.add_command(_command("area"))
command.add_command(_command("source"))
command.add_command(_command("concept"))


@command.command(name="items")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False))
@click.option("--source", default="", metavar="SOURCE", help="Of numbers without a source.")
@dry_run_option
@with_call
def items(call: Call, file: Path, source: str, dry_run: bool) -> None:
    """Rename the questions of a bank that was renumbered.

    FILE is a CSV with the old and the new number in each line. Answers from before now are counted
    under the new numbers; those you log from now on have them already.
    """
    from kb.importers.table_reader import decoded

    text, _ = decoded(read_file(file), str(file))
    done = rename_items(call.session, text, str(file), source, dry_run=dry_run)
    _show(call, done, dry_run=dry_run)


def _show(call: Call, done: Renaming, *, dry_run: bool) -> None:
    (old, new), *more = done.names.items()
    what = f"{len(done.names)} questions get new numbers" if more else f"{old} becomes {new}"
    lines = [f"{what}{' (nothing was changed yet)' if dry_run else ''}", *done.told()]
    call.answer(
        {
            "kind": done.kind,
            "names": dict(done.names),
            "files": done.files,
            "answer_count": done.answer_count,
            "recorded": not dry_run,
        },
        *lines,
        *([] if dry_run else ["To undo this: missbook undo"]),
    )
