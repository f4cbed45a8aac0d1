"""Write one file with everything of the base that is not derived."""

from __future__ import annotations

from datetime import UTC, date, datetime
from pathlib import Path

import click

from kb.cli.params import common, open_session
from kb.core.wording import counted
from kb.presentation.render import to_json


@click.command(name="pack")
@click.option("--out", "file", metavar="FILE", help="Default: base-DATE.zip in this folder.")
@click.option("--replace", is_flag=True, help="Replace FILE if it is there.")
@common
@click.pass_context
def command(
    ctx: click.Context,
    file: str | None,
    replace: bool,
    as_json: bool,
    as_of: date | None,
    base_folder: str | None,
) -> None:
    """Write the whole base into one zip file.

    missbook unpack makes a base of it again.

    Notes, log and settings go in, each with a digest; what can be rebuilt stays out.
    """
    from kb.storage.pack import pack

    session = open_session(ctx, base_folder, as_of)
    now = datetime.now(UTC)
    file = file or f"{session.root.resolve().name}-{now.date().isoformat()}.zip"
    packed = pack(session.root, Path(file), now, replace=replace)
    if as_json:
        content = {
            "file": file,
            "file_count": packed.file_count,
            "byte_count": packed.byte_count,
        }
        click.echo(to_json(content), nl=False)
    else:
        click.echo(f"{counted(packed.file_count, 'file')} packed in {file}")
