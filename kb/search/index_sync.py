"""Keeps the index in step with the base: what it holds, what changed, and when to rebuild it.

The derived store lists the notes in the index and the names, sizes and times of its files. If a
file is missing or not as it was left, the index is rebuilt.
"""

from __future__ import annotations

import gc
import json
import os
import warnings
from contextlib import closing, suppress
from typing import TYPE_CHECKING, Any, NamedTuple, TypeVar

from kb.core.errors import ConflictError, DerivedError, KBError, why
from kb.storage.derived_store import about, fill, put_about

if TYPE_CHECKING:
    import sqlite3
    from collections.abc import Callable, Iterable, Mapping
    from pathlib import Path

    from kb.search.document import Page
    from kb.storage.derived_store import DerivedStore

Made = TypeVar("Made")

PREFIX = "index-"
GONE_FRACTION = 0.05
"""Deleted notes beyond this fraction of the index: rebuild it."""
FEW = 50
"""This many deleted notes are never too many."""
MOST_PARTS = 8
"""With more parts than this the small ones are merged, which takes longer than adding another."""
MEMORY_MB = 512
"""Memory the writer may use before it sorts in pieces on the disk."""


class State(NamedTuple):
    """What the index holds and where: equal states give equal answers.

    `files` is a digest of its files, `length` the weighted length of all notes in it.
    """

    folder: str
    files: str
    length: int
    fingerprint: str


class _Written(NamedTuple):
    """What a change adds to the index and takes out of it."""

    pages: Mapping[str, str]
    gone: Iterable[str]
    words: Iterable[str]
    length: int


class IndexFiles:
    """The files of one index, in a folder of their own beside the derived store."""

    def __init__(self, store: DerivedStore) -> None:
        self._store = store

    def state(self) -> State | None:
        """The current state; None if there is no index, or its files are not as they were left."""
        kept = self._store.run(lambda db: about(db, "index"))
        if not kept:
            return None
        state = State(*json.loads(kept))
        try:
            return state if state.files == _mark(self.path(state)) else None
        except OSError:
            return None

    def path(self, state: State) -> Path:
        """The folder of the index."""
        return self._store.folder / state.folder

    def forget(self) -> None:
        """Make the next `sync` rebuild the index."""
        self._store.write(lambda db: put_about(db, "index", ""))

    def beginning(self, prefixes: Iterable[str], limit: int) -> list[str]:
        """Words of the base as written, in small letters: with each prefix the first ones."""
        sql = "SELECT word FROM word WHERE word >= ? AND word < ? ORDER BY word LIMIT ?"
        asked = [(prefix, prefix + "\U0010ffff", limit) for prefix in prefixes]
        return self._store.run(lambda db: [w for one in asked for (w,) in db.execute(sql, one)])

    def words(self) -> list[str]:
        """All words of the base as written, in small letters, in order."""
        sql = "SELECT word FROM word ORDER BY word"
        return self._store.run(lambda db: [word for (word,) in db.execute(sql)])

    def sync(
        self,
        fingerprint: str,
        digests: Callable[[], Mapping[str, str]],
        page: Callable[[str], Page],
    ) -> None:
        """See `Index.sync`."""
        state = self.state()
        if state and fingerprint and state.fingerprint == fingerprint:
            return
        wanted = digests()
        try:
            self._sync_locked(fingerprint, wanted, page)
        except ConflictError:
            if state is None:
                raise DerivedError("another missbook is building the index") from None
        except OSError:
            self._store.use_temporary()
            try:
                self._sync_locked(fingerprint, wanted, page)
            except OSError as error:
                message = f"the index cannot be written: {why(error)}"
                raise DerivedError(message, hint="free some space and try again") from error

    def _sync_locked(
        self, fingerprint: str, wanted: Mapping[str, str], page: Callable[[str], Page]
    ) -> None:
        with self._store.building():
            state = self.state()
            if state is None:
                return self._build(fingerprint, wanted, page)
            sql = "SELECT path, digest FROM indexed"
            present = dict(self._store.run(lambda db: db.execute(sql).fetchall()))
            changed = {path: own for path, own in wanted.items() if present.get(path) != own}
            gone = present.keys() - wanted.keys()
            if not changed and not gone:
                again = state._replace(fingerprint=fingerprint)
                return self._store.write(lambda db: put_about(db, "index", json.dumps(again)))
            written = unless_damaged(lambda: self._update(self.path(state), changed, gone, page))
            if written is None:
                return self._build(fingerprint, wanted, page)
            return self._keep(state.folder, state.length, fingerprint, written)

    def _build(
        self, fingerprint: str, wanted: Mapping[str, str], page: Callable[[str], Page]
    ) -> None:
        import shutil

        from kb.search.index_schema import NAME, codec, create_in, schema

        name = PREFIX + os.urandom(6).hex()
        path = self._store.folder / name
        path.mkdir(mode=0o700)
        writer = create_in(str(path), schema(), NAME).writer(limitmb=MEMORY_MB, codec=codec())
        written = _add(writer, dict(sorted(wanted.items())), (), page)
        writer.commit(merge=False)
        self._store.write(lambda db: fill(db, "word", []))
        self._store.write(lambda db: fill(db, "indexed", []))
        self._keep(name, 0, fingerprint, written)
        for other in self._store.folder.glob(PREFIX + "*"):
            if other != path:
                shutil.rmtree(other, ignore_errors=True)  # another process may hold it on Windows

    def _update(
        self, path: Path, changed: Mapping[str, str], gone: set[str], page: Callable[[str], Page]
    ) -> _Written | None:
        """Remove notes and add them again; None if a rebuild is better."""
        from kb.search.index_schema import NAME, codec, open_dir

        index = open_dir(str(path), NAME)
        with closing(index.reader()) as reader:
            numbers = list(_numbers(reader, [*changed, *gone]))
            count = reader.doc_count_all()
            if count - reader.doc_count() + len(numbers) > max(FEW, GONE_FRACTION * count):
                return None
            merge = len(reader.leaf_readers()) > MOST_PARTS
            lengths = reader.column_reader("length")
            lost = sum(lengths[number] for number in numbers)
        writer = index.writer(codec=codec())
        for number in numbers:
            writer.delete_document(number)
        written = _add(writer, changed, gone, page)
        writer.commit(merge=merge)
        return written._replace(length=written.length - lost)

    def _keep(self, folder: str, length: int, fingerprint: str, written: _Written) -> None:
        """Record what the index now holds."""
        files = _mark(self._store.folder / folder)
        state = State(folder, files, length + written.length, fingerprint)

        def work(db: sqlite3.Connection) -> None:
            gone = [(path,) for path in written.gone]
            db.executemany("DELETE FROM indexed WHERE path = ?", gone)
            db.executemany("INSERT OR REPLACE INTO indexed VALUES (?, ?)", written.pages.items())
            words = [(word,) for word in written.words]
            db.executemany("INSERT OR IGNORE INTO word VALUES (?)", words)
            put_about(db, "index", json.dumps(state))

        self._store.write(work)


def unless_damaged(work: Callable[[], Made]) -> Made | None:
    """The result of some work on the index; None if its files cannot be read.

    Whoosh may raise any exception on damaged files and leave them open; they are collected here,
    without a ResourceWarning.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", ResourceWarning)
        try:
            return work()
        except KBError:
            raise
        except Exception:
            pass
        gc.collect()
        return None


def _add(
    writer: Any,  # noqa: ANN401 - Whoosh has no types
    pages: Mapping[str, str],
    gone: Iterable[str],
    page: Callable[[str], Page],
) -> _Written:
    """Add pages to the writer, one by one."""
    from kb.search.document import entries, pack_words, surface

    seen: set[str] = set()
    whole = 0
    try:
        for path in pages:
            note = page(path)
            found, length = entries(note, seen)
            writer.add_document(
                text=found,
                path=path.encode(),
                words=pack_words(found),
                length=length,
                note=note.id,
                body=note.body,
                line=note.line,
            )
            whole += length
    except BaseException:
        writer.cancel()
        raise
    return _Written(pages, gone, surface(seen), whole)


def _numbers(reader: Any, paths: Iterable[str]) -> Iterable[int]:  # noqa: ANN401 - as above
    """Numbers of the notes at these paths that the index holds."""
    from kb.search.document import exact
    from kb.search.index_schema import TEXT, TermNotFound

    for path in paths:
        with suppress(TermNotFound):
            yield from reader.postings(TEXT, exact("p", (path,))).all_ids()


def _mark(folder: Path) -> str:
    """Names, sizes and times of the files of an index."""
    with os.scandir(folder) as entries:
        files = sorted((entry.name, entry.stat()) for entry in entries if "LOCK" not in entry.name)
    return "; ".join(f"{name} {stat.st_size} {stat.st_mtime_ns}" for name, stat in files)
