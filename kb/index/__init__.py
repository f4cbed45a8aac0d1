"""The full-text index of a base: derived, brought up to date on use, safe to delete."""

from __future__ import annotations

import json
import shutil
from collections import Counter
from contextlib import closing
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from kb.errors import DerivedError
from kb.model import Answer, Hit, NoteId
from kb.text.english import terms
from kb.text.passage import best_passage

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

SCHEMA = 1
FIELDS = {"title": 3.0, "concepts": 2.0, "headings": 1.5, "body": 1.0, "remarks": 0.7}


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """One note as the index sees it; `digest` covers everything in it."""

    id: NoteId
    path: str
    digest: str
    title: str
    areas: tuple[str, ...]
    concepts: tuple[str, ...]
    headings: tuple[str, ...]
    body: str
    remarks: tuple[str, ...]


class Index:
    """The index of one base, kept in `folder`/index."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder / "index"

    def sync(
        self,
        fingerprint: str,
        digests: Callable[[], Mapping[str, str]],
        page: Callable[[str], Page],
    ) -> None:
        """Bring the index up to date; equal fingerprints mean that nothing changed.

        Raises:
            DerivedError: It cannot be used and could not be rebuilt.
        """
        try:
            self._sync(fingerprint, digests, page)
        except Exception:
            shutil.rmtree(self._folder, ignore_errors=True)
            try:
                self._sync(fingerprint, digests, page)
            except Exception as error:
                raise DerivedError(f"the index could not be built: {error}") from error

    def _sync(
        self,
        fingerprint: str,
        digests: Callable[[], Mapping[str, str]],
        page: Callable[[str], Page],
    ) -> None:
        from whoosh import fields, index

        about = self._folder / "about.json"
        stored: dict[str, Any] = {}
        if about.is_file():
            stored = json.loads(about.read_text("utf-8"))
        if stored.get("fingerprint") == fingerprint and stored.get("schema") == SCHEMA:
            return
        self._folder.mkdir(parents=True, exist_ok=True)
        if stored.get("schema") != SCHEMA:
            schema = fields.Schema(
                path=fields.ID(unique=True, stored=True),
                page=fields.STORED,
                **{name: fields.KEYWORD(scorable=True) for name in FIELDS},
            )
            index.create_in(str(self._folder), schema)
            stored = {"digests": {}}
        now = digests()
        old = stored["digests"]
        changed = sorted(path for path, mark in now.items() if old.get(path) != mark)
        gone = sorted(old.keys() - now.keys())
        writer = index.open_dir(str(self._folder)).writer(timeout=15.0)
        for path in (*gone, *(path for path in changed if path in old)):
            writer.delete_by_term("path", path)
        for path in changed:
            found = page(path)
            writer.add_document(
                path=path,
                page=(found.id, found.body),
                title=" ".join(terms(found.title)),
                concepts=" ".join(terms(" ".join(found.concepts))),
                headings=" ".join(terms(" ".join(found.headings))),
                body=" ".join(terms(found.body)),
                remarks=" ".join(terms(" ".join(found.remarks))),
            )
        writer.commit()
        about.write_text(
            json.dumps({"schema": SCHEMA, "fingerprint": fingerprint, "digests": dict(now)}),
            "utf-8",
        )

    def _ranked(
        self, wanted: list[str], paths: frozenset[str] | None
    ) -> list[tuple[float, str, NoteId, str]]:
        from whoosh import index, query, scoring

        if not wanted or not self._folder.is_dir():
            return []
        parts = [
            query.Term(name, word, boost=weight)
            for word in dict.fromkeys(wanted)
            for name, weight in FIELDS.items()
        ]
        with closing(
            index.open_dir(str(self._folder)).searcher(weighting=scoring.BM25F())
        ) as searcher:
            found = searcher.search(query.Or(parts), limit=None)
            return [
                (hit.score, hit["path"], NoteId(hit["page"][0]), hit["page"][1])
                for hit in found
                if paths is None or hit["path"] in paths
            ]

    def search(
        self,
        words: str,
        *,
        limit: int = 10,
        start: int = 0,
        paths: frozenset[str] | None = None,
        prefix: bool = False,
    ) -> Answer:
        """Notes for words as typed, best first."""
        wanted = terms(words)
        ranked = self._ranked(wanted, paths)
        hits = []
        for weight, _, note, body in ranked[start : start + limit]:
            pieces, line = best_passage(body, frozenset(wanted))
            hits.append(Hit(note=note, weight=weight, passage=pieces, line=line))
        return Answer(hits=tuple(hits), total_count=len(ranked))

    def similar(self, text: str, *, limit: int = 10) -> tuple[Hit, ...]:
        """Notes whose text is nearest to `text`, best first."""
        common = [word for word, _ in Counter(terms(text)).most_common(40)]
        ranked = self._ranked(common, None)[:limit]
        return tuple(Hit(note=note, weight=weight) for weight, _, note, _ in ranked)

    def neighbours(self, limit: int) -> Mapping[str, tuple[tuple[str, float], ...]]:
        """The `limit` nearest notes of each note by text, as (path, weight in [0, 1])."""
        return {}
