"""Keeping the index: what is in it, what changed, and how it is made anew.

Beside Whoosh's files lie `stamp.json` (which generation holds, and what is deleted in it), for
every segment `pages-ID.json` (paths and digests in the order of its documents), `ghosts-N.json`
(counts to take off for deleted notes) and `words-N.txt` (words as written, for prefixes and
spelling).
"""

from __future__ import annotations

import json
from bisect import bisect_left
from contextlib import suppress
from itertools import compress
from operator import ne
from typing import TYPE_CHECKING, NamedTuple

from kb.core.errors import ConflictError, DerivedError, KBError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from pathlib import Path

    from kb.search.document import Page
    from kb.search.loose import Loose
    from kb.search.segment import Segment

SCHEMA = 6
"""Raise it whenever what is indexed, or how words are folded, changes."""

FOLD_IN = 1
"""A segment of at most this many times the changed notes is written again together with them, so
that there are never many segments."""
GONE_FRACTION = 0.2
"""Deleted notes beyond this fraction of the index: build it anew."""
FEW = 50
"""Up to so many deleted notes are never too many."""

Rows = tuple[tuple[str, int, tuple[int, ...]], ...]

Ghosts = dict[str, dict[str, tuple[int, float]]]
"""Frequency and weight of the keys of deleted notes, by segment."""


class Stamp(NamedTuple):
    """Which generation of the index holds, for which notes.

    Of every segment its id, how many documents it holds, and those of them that are deleted.
    """

    fingerprint: str = ""
    generation: int = -1
    words: str = ""
    segments: Rows = ()

    @property
    def mark(self) -> str:
        """Equal for equal states."""
        return f"{self.generation} {self.fingerprint}"


class Listing:
    """The notes of one segment: paths and digests in the order of its documents."""

    def __init__(
        self, segment: str, paths: list[str], digests: list[str], deleted: Iterable[int]
    ) -> None:
        self.segment, self.paths, self.digests = segment, paths, digests
        self.deleted = frozenset(deleted)

    @property
    def live_count(self) -> int:
        """Notes that are not deleted."""
        return len(self.paths) - len(self.deleted)

    def live(self) -> dict[str, str]:
        """Digests of the live notes by path."""
        found = dict(zip(self.paths, self.digests, strict=True))
        for doc in self.deleted:
            del found[self.paths[doc]]
        return found

    def numbers(self, wanted: frozenset[str] | set[str]) -> set[int]:
        """Numbers of the live notes at these paths."""
        found = set()
        if len(wanted) <= FEW:  # to look for each is quicker than to look at all
            for path in wanted:
                with suppress(ValueError):
                    found.add(self.paths.index(path))
        else:
            found.update(doc for doc, path in enumerate(self.paths) if path in wanted)
        return found - self.deleted


class Files:
    """The files of one index."""

    def __init__(self, folder: Path) -> None:
        self.parent, self.folder = folder, folder / "index"
        self._listed: dict[str, tuple[list[str], list[str]]] = {}

    def stamp(self) -> Stamp:
        """The stamp as it is on the disk now; an empty one if there is none of this schema."""
        try:
            schema, mark, generation, words, rows = json.loads(
                (self.folder / "stamp.json").read_bytes()
            )
            segments = tuple((str(name), int(count), tuple(gone)) for name, count, gone in rows)
        except (OSError, ValueError, TypeError):
            return Stamp()
        if schema != SCHEMA:
            return Stamp()
        return Stamp(fingerprint=mark, generation=generation, words=words, segments=segments)

    def listings(self, stamp: Stamp) -> list[Listing]:
        """The notes of every segment."""
        listed = self._listed
        self._listed = {}
        for segment, *_ in stamp.segments:  # what a segment holds never changes, only what is gone
            self._listed[segment] = listed.get(segment) or tuple(
                json.loads((self.folder / f"pages-{segment}.json").read_bytes())
            )
        return [Listing(name, *self._listed[name], gone) for name, _, gone in stamp.segments]

    def ghosts(self, stamp: Stamp) -> Ghosts:
        """What to take off the counts of every segment."""
        path = self.folder / f"ghosts-{stamp.generation}.json"
        found: Ghosts = json.loads(path.read_bytes()) if path.exists() else {}
        return found

    def words(self, stamp: Stamp) -> list[str]:
        """Words of the base as written, lower-case, sorted."""
        if not stamp.words:
            return []
        try:
            return (self.folder / stamp.words).read_text(encoding="utf-8").split("\n")
        except OSError:
            return []

    def sync(
        self,
        fingerprint: str,
        digests: Callable[[], Mapping[str, str]],
        page: Callable[[str], Page],
    ) -> None:
        """See `Index.sync`."""
        stamp = self.stamp()
        if stamp.fingerprint == fingerprint and stamp.generation >= 0:
            return
        wanted = digests()
        try:
            from kb.storage.atomic_files import locked

            with locked(self.parent):
                stamp = self.stamp()
                if stamp.fingerprint != fingerprint or stamp.generation < 0:
                    self._sync_locked(stamp, fingerprint, wanted, page)
        except ConflictError:
            if stamp.generation < 0:
                raise DerivedError("another missbook is building the index") from None
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            hint = "check free space and permissions; .missbook may be deleted at any time"
            raise DerivedError(f"the index cannot be written: {why}", hint=hint) from error

    def forget(self) -> None:
        """Let the next sync make everything anew."""
        with suppress(OSError):
            (self.folder / "stamp.json").unlink()

    def _sync_locked(
        self,
        stamp: Stamp,
        fingerprint: str,
        wanted: Mapping[str, str],
        page: Callable[[str], Page],
    ) -> None:
        change = None
        if stamp.generation >= 0:
            with suppress(Exception):  # Whoosh raises anything on damaged files: made anew below
                change = self._change(stamp, wanted)
        if change is not None:
            try:
                self._write(change, stamp, fingerprint, wanted, page)
            except (KBError, OSError):
                raise
            except Exception:  # as above; a page that cannot be given raises again when built
                change = None
        if change is None:
            self._build(fingerprint, wanted, page)

    def _build(
        self, fingerprint: str, wanted: Mapping[str, str], page: Callable[[str], Page]
    ) -> None:
        import shutil

        from kb.search import store

        shutil.rmtree(self.folder, ignore_errors=True)
        self.folder.mkdir(parents=True, exist_ok=True)
        for path in self.folder.iterdir():  # what another process holds open on Windows
            with suppress(OSError):
                path.unlink()
        store.create(self.folder)
        self._write(_Change(again=sorted(wanted)), Stamp(), fingerprint, wanted, page)

    def _change(self, stamp: Stamp, wanted: Mapping[str, str]) -> _Change | None:
        """What to write and delete; None when building anew is better."""
        listings = self.listings(stamp)
        present: dict[str, str] = {}
        for listing in listings:
            present.update(listing.live())
        differs = map(ne, map(present.get, wanted), wanted.values())
        again = set(compress(wanted, differs))
        gone = present.keys() - wanted.keys()
        dropped: set[str] = set()
        for listing in sorted(listings, key=lambda listing: listing.live_count):
            if len(listings) > 1 and again and listing.live_count <= FOLD_IN * len(again):
                again.update(listing.live().keys() & wanted.keys())
                dropped.add(listing.segment)
        off = again | gone
        kept = [listing for listing in listings if listing.segment not in dropped]
        deleted = {listing.segment: listing.numbers(off) for listing in kept}
        off_count = sum(len(listing.deleted) for listing in kept) + sum(map(len, deleted.values()))
        if off_count > max(FEW, GONE_FRACTION * sum(len(listing.paths) for listing in kept)):
            return None
        ghosts = self._ghosts(stamp, deleted, dropped)
        rows = tuple(
            (
                listing.segment,
                len(listing.paths),
                tuple(sorted(listing.deleted | deleted[listing.segment])),
            )
            for listing in kept
        )
        return _Change(
            again=sorted(again), deleted=deleted, dropped=dropped, ghosts=ghosts, rows=rows
        )

    def _ghosts(self, stamp: Stamp, deleted: Mapping[str, set[int]], dropped: set[str]) -> Ghosts:
        ghosts = {name: held for name, held in self.ghosts(stamp).items() if name not in dropped}
        if not any(deleted.values()):
            return ghosts
        from kb.search.segment import open_segments

        wanted = [row for row in stamp.segments if deleted.get(row[0])]
        segments = open_segments(self.folder, wanted)
        try:
            for segment in segments:
                count_off(ghosts, segment, deleted[segment.id])
        finally:
            _close(segments)
        return ghosts

    def _write(
        self,
        change: _Change,
        stamp: Stamp,
        fingerprint: str,
        wanted: Mapping[str, str],
        page: Callable[[str], Page],
    ) -> None:
        from kb.search import store
        from kb.search.document import entries, record, surface

        writer = store.open_writer(self.folder)
        segment = store.segment_id(writer)
        seen: set[str] = set()
        for path_again in change.again:
            note = page(path_again)
            found, length = entries(note, seen)
            writer.add_page(found, record(note, found), length)
        generation = store.commit(writer, change.deleted or {}, change.dropped)
        words = self._words_file(stamp, surface(seen), generation)
        rows = change.rows
        if change.again:
            rows = (*rows, (segment, len(change.again), ()))
            marks = [wanted[path] for path in change.again]
            self._put(f"pages-{segment}.json", [change.again, marks])
        if change.ghosts:
            self._put(f"ghosts-{generation}.json", change.ghosts)
        self._put("stamp.json", [SCHEMA, fingerprint, generation, words, rows])
        keep = {"stamp.json", words, f"ghosts-{generation}.json"}
        keep.update(f"pages-{name}.json" for name, _, _ in rows)
        for path in self.folder.iterdir():
            if path.name not in keep and path.name.startswith(("pages-", "ghosts-", "words-")):
                with suppress(OSError):
                    path.unlink()

    def _words_file(self, stamp: Stamp, seen: set[str], generation: int) -> str:
        known = self.words(stamp)
        new = [word for word in seen if not _has(known, word)]
        if known and not new:
            return stamp.words
        name = f"words-{generation}.txt"
        text = "\n".join(sorted([*known, *new]))
        (self.folder / name).write_text(text, encoding="utf-8", newline="\n")
        return name

    def _put(self, name: str, value: object) -> None:
        path = self.folder / name
        beside = path.with_suffix(".new")
        beside.write_bytes(json.dumps(value, separators=(",", ":")).encode())
        beside.replace(path)


def count_off(ghosts: Ghosts, segment: Segment | Loose, docs: Iterable[int]) -> None:
    """Note what is to be taken off the counts of a segment when these documents are deleted."""
    from kb.search.document import weights

    for doc in sorted(docs):
        held = ghosts.setdefault(segment.id, {})
        for name, weight in weights(segment.stored(doc)[10]).items():
            count, whole = held.get(name, (0, 0))
            held[name] = (count + 1, whole + weight)


class _Change:
    """Notes to write, and what goes off the segments there are."""

    def __init__(
        self,
        *,
        again: list[str],
        deleted: dict[str, set[int]] | None = None,
        dropped: set[str] | None = None,
        ghosts: Ghosts | None = None,
        rows: Rows = (),
    ) -> None:
        self.again, self.deleted, self.dropped = again, deleted or {}, dropped or set()
        self.ghosts, self.rows = ghosts or {}, rows


def _has(words: Sequence[str], word: str) -> bool:
    """Whether a sorted list holds a word."""
    at = bisect_left(words, word)
    return at < len(words) and words[at] == word


def _close(segments: Sequence[Segment]) -> None:
    for segment in segments:
        segment.close()
