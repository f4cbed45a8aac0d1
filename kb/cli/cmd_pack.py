"""Write one file with everything of the base that is not derived."""

from dataclasses import asdict
from datetime import UTC, datetime

import click

from kb.cli.call import Call, with_call
from kb.cli.output_file import Target, writes
from kb.core.wording import counted


@click.command(name="pack")
@writes(".zip", default="BASE-DATE.zip here, or beside the base")
@with_call
def command(call: Call, target: Target) -> None:
    """Write the whole base into one zip file.

    Notes, log and settings go in, each with a digest; what can be rebuilt stays out. missbook
    unpack restores it.
    """
    from kb.services.base_setup import pack_base

    file = target.named.file if target.named else None
    written, packed = pack_base(call.root, file, datetime.now(UTC), replace=target.replace)
    call.answer(
        {"file": str(written), **asdict(packed)},
        f"Written: {written}, {counted(packed.file_count, 'file')}",
    )
