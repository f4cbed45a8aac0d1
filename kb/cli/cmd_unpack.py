"""Make a base from a file that `pack` wrote."""

from __future__ import annotations

from pathlib import Path

import click

from kb.core.wording import counted
from kb.presentation.render import to_json


@click.command(name="unpack")
@click.argument("file")
@click.argument("folder")
@click.option("--json", "as_json", is_flag=True, help="Print JSON.")
def command(file: str, folder: str, as_json: bool) -> None:
    """Make a base again from a FILE that pack wrote.

    It goes to FOLDER, which is empty or not there yet.

    Every digest is checked first; if one does not match, nothing is written.
    """
    from kb.storage.pack import unpack

    packed = unpack(Path(file), Path(folder))
    if as_json:
        content = {
            "folder": folder,
            "file_count": packed.file_count,
            "byte_count": packed.byte_count,
        }
        click.echo(to_json(content), nl=False)
    else:
        click.echo(f"{counted(packed.file_count, 'file')} restored in {folder}; all digests agree")
