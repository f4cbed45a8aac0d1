"""Make a base from a file that `pack` wrote."""

from dataclasses import asdict
from pathlib import Path

import click

from kb.cli.call import Call, json_option, pass_call
from kb.core.wording import counted


@click.command(name="unpack")
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("folder", type=click.Path(path_type=Path))
@json_option
@pass_call
def command(call: Call, file: Path, folder: Path) -> None:
    """Restore a base from a file that pack wrote.

    FOLDER must be new or empty. Every digest is checked first; if one does not match, nothing is
    written.
    """
    from kb.services.base_setup import unpack

    packed = unpack(file, folder)
    call.answer(
        {"folder": str(folder), **asdict(packed)},
        f"Restored: {folder}, {counted(packed.file_count, 'file')}; every digest agrees",
    )
