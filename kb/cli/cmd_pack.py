"""Write one file with everything of the base that is not derived."""

from __future__ import annotations

from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

import click

from kb.cli.call import Call, with_call
from kb.core.wording import counted


@click.command(name="pack")
@click.option(
    "--out",
    "file",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Default: base-DATE.zip in this folder.",
)
@click.option("--replace", is_flag=True, help="Replace FILE if it is there.")
@with_call
def command(call: Call, file: Path | None, replace: bool) -> None:
    """Write the whole base into one zip file.

    missbook unpack makes a base of it again.

    Notes, log and settings go in, each with a digest; what can be rebuilt stays out.
    """
    from kb.services.base_setup import pack_base

    written, packed = pack_base(call.root, file, datetime.now(UTC), replace=replace)
    call.answer(
        {"file": str(written), **asdict(packed)},
        f"{counted(packed.file_count, 'file')} packed in {written}",
    )
