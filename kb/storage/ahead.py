"""A search looks at the disk while the rest of the program is still being loaded."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from kb.storage.scan import Glance

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

_begun: dict[Path, Glance] = {}


def base_at(start: Path, named: str | None) -> Path | None:
    """The base that was named, else the nearest one around a folder; None if there is none."""
    if named:
        root = Path(named).expanduser()
        return root if (root / "exam.yaml").is_file() else None
    for folder in (start, *start.parents):
        if (folder / "exam.yaml").is_file():
            return folder
    return None


def set_out(words: Sequence[str], environ: Mapping[str, str]) -> None:
    """Begin to look at the base that a command line most likely means.

    A guess: what proves wrong is never asked for.

    Args:
        words: The command line without the program's name.
        environ: The environment.
    """
    if "find" not in words[:3]:
        return
    named = environ.get("MISSBOOK_BASE")
    for at, word in enumerate(words):
        if word.startswith("--base"):
            named = word[len("--base=") :] or "".join(words[at + 1 : at + 2])
    try:
        root = base_at(Path.cwd(), named)
        if root:
            _begun[root] = glance(root)
    except (OSError, RuntimeError):
        return  # the command itself says what is wrong


def glance(root: Path) -> Glance:
    """What changed in a base since its rows were kept; once only, where it was begun ahead."""
    return _begun.pop(root, None) or Glance(root, root / ".missbook")
