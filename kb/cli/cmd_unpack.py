"""Make a base from a file that `pack` wrote."""

from dataclasses import asdict
from pathlib import Path

import click

from kb.cli.call import Call, json_option
from kb.core.wording import counted


@click.command(name="unpack")
@click.argument("file", type=click.Path(path_type=Path))
@click.argument("folder", type=click.Path(path_type=Path))
@json_option
@click.pass_context
def command(ctx: click.Context, file: Path, folder: Path, as_json: bool) -> None:
    """Restore a base from a file that pack wrote.

    FOLDER must be new or empty. Every digest is checked first; if one does not match, nothing is
    written.
    """
    from kb.services.base_setup import unpack_base

    packed = unpack_base(file, folder)
    Call(ctx, as_json=as_json).answer(
        {"folder": str(folder), **asdict(packed)},
        f"Restored: {folder}, {counted(packed.file_count, 'file')}; every digest agrees",
    )
