"""Lines that were not understood are kept in a file beside the one they came from."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from kb.cli.params import say
from kb.errors import KBError

if TYPE_CHECKING:
    from kb.session import Session

KEPT = "-not-understood"


def keep_beside(session: Session, file: str, text: str, count: int) -> None:
    """Keep `text` beside `file` (in the log's folder if that cannot be written, or for `-`)."""
    from kb.files import replace_file

    name = ""
    if file != "-":
        path = Path(file)
        suffix = path.suffix if path.suffix.casefold() in (".txt", ".md", ".csv") else ".csv"
        target = path.with_name(f"{path.stem.removesuffix(KEPT)}{KEPT}{suffix}")
        try:
            replace_file(target, text.encode(), shown=str(target))
            name = str(target)
        except KBError as error:
            say(str(error))
    if not name:
        name = session.keep_aside(text)
    kept = "1 line is" if count == 1 else f"{count} lines are"
    say(f"{kept} kept in {name}")
