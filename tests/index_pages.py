"""Short pages to index, and a search over them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.core.ids import NoteId
from kb.search import Index, Page
from kb.storage.derived_store import DerivedStore

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path


def page(name: str, body: str, title: str = "") -> Page:
    """A page that contains these words."""
    return Page(
        id=NoteId(name),
        path=f"{name}.md",
        title=title,
        concepts=(),
        headings=(),
        body=body,
        remarks=(),
    )


def order(folder: Path, pages: Sequence[Page], words: str) -> list[str]:
    """Ids of the notes found, best first."""
    by_path = {held.path: held for held in pages}
    index = Index(DerivedStore(folder / "derived"))
    index.sync("once", lambda: dict.fromkeys(by_path, "0"), by_path.__getitem__)
    found = [str(hit.note) for hit in index.search(words).hits]
    index.close()
    return found
