"""A note typed but not yet written, kept so that nothing typed is lost."""

from contextlib import suppress
from pathlib import Path

from kb.core.errors import NotFoundError
from kb.storage import atomic_files
from kb.storage.attempt_store import LOG


def keep_draft(root: Path, device: str, text: str) -> str:
    """Keep the text of an unwritten note; empty text clears it. Returns the path.

    Raises:
        KBError: The disk refused.
    """
    name = f"{LOG}/draft-{device}.txt"
    if text or atomic_files.size_of(root / name) is not None:
        with atomic_files.locked(root / LOG):
            atomic_files.replace_file(root / name, text.encode(), shown=name)
    return name


def kept_draft(root: Path, device: str) -> str:
    """The text kept, with its question in the first line; empty if there is none."""
    name = f"{LOG}/draft-{device}.txt"
    with suppress(NotFoundError):
        return atomic_files.read_bytes(root / name, name).decode("utf-8", "replace")
    return ""
