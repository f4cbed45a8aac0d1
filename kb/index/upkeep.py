"""Keeping the index: what is in it, what changed, and how it is made anew.

Beside Whoosh's files lie `stamp.json` (which generation holds, and its totals), `pages-N.json`
(where every note stands) and `words-N.txt` (words as written, for prefixes and spelling).
"""

from __future__ import annotations

import json
import shutil
from contextlib import suppress
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from kb.errors import ConflictError, DerivedError, KBError
from kb.files import locked

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping
    from pathlib import Path

    from kb.index.pages import Page

SCHEMA = 1
"""Raise it whenever what is indexed, or how words are folded, changes."""

FOLD_IN = 4
"""A segment of at most this many times the changed notes is written again together with them, so
that there are never many segments."""
GONE_FRACTION = 1 / 3
"""Deleted notes beyond this fraction of the index: build it anew."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Stamp:
    """Which generation of the index holds, and for which notes."""

    schema: int = 0
    fingerprint: str = ""
    generation: int = -1
    words: str = ""

    @property
    def mark(self) -> str:
        """Equal for equal states."""
        return f"{self.schema} {self.generation} {self.fingerprint}"


Pages = dict[str, tuple[str, int, str]]
"""Segment, number in it and digest of every note by path."""


class Files:
    """The files of one index."""

    def __init__(self, folder: Path) -> None:
        self.parent, self.folder = folder, folder / "index"

    def stamp(self) -> Stamp:
        """The stamp as it is on the disk now; an empty one if there is none."""
        try:
            found = Stamp(**json.loads((self.folder / "stamp.json").read_bytes()))
        except (OSError, ValueError, TypeError):
            return Stamp()
        return found if found.schema == SCHEMA else Stamp()

    def pages(self, stamp: Stamp) -> Pages:
        """Where every note stands in that generation."""
        raw = (self.folder / f"pages-{stamp.generation}.json").read_bytes()
        return {path: (row[0], row[1], row[2]) for path, row in json.loads(raw).items()}

    def ghosts(self, stamp: Stamp) -> dict[str, dict[str, tuple[int, float]]]:
        """Frequency and weight of the keys of deleted notes, by segment."""
        path = self.folder / f"ghosts-{stamp.generation}.json"
        if not path.exists():
            return {}
        return {
            segment: {name: (row[0], row[1]) for name, row in held.items()}
            for segment, held in json.loads(path.read_bytes()).items()
        }

    def words(self, stamp: Stamp) -> list[str]:
        """Words of the base as written, lower-case, sorted."""
        if not stamp.words:
            return []
        return (self.folder / stamp.words).read_text(encoding="utf-8").split("\n")

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
        wanted = dict(digests())
        try:
            with locked(self.parent):
                stamp = self.stamp()
                if stamp.fingerprint != fingerprint or stamp.generation < 0:
                    self._sync_locked(stamp, fingerprint, wanted, page)
        except ConflictError:
            if stamp.generation < 0:
                raise DerivedError("another missbook is building the index") from None
        except KBError:
            raise
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            hint = "check free space and permissions; .missbook may be deleted at any time"
            raise DerivedError(f"the index cannot be written: {why}", hint=hint) from error

    def rebuild(self, page: Callable[[str], Page]) -> None:
        """Make the present generation anew from its own list of notes, if it can be read."""
        with suppress(OSError):
            (self.folder / "stamp.json").unlink()

    def _sync_locked(
        self,
        stamp: Stamp,
        fingerprint: str,
        wanted: dict[str, str],
        page: Callable[[str], Page],
    ) -> None:
        if stamp.generation >= 0:
            try:
                if self._update(stamp, fingerprint, wanted, page):
                    return
            except KBError:
                raise
            except Exception:  # Whoosh raises anything on a damaged index
                self._report_damage()
        self._build(fingerprint, wanted, page)

    def _report_damage(self) -> None:
        """A damaged index is made anew without a word: nothing is lost with it."""

    def _build(self, fingerprint: str, wanted: dict[str, str], page: Callable[[str], Page]) -> None:
        from kb.index import store

        shutil.rmtree(self.folder, ignore_errors=True)
        self.folder.mkdir(parents=True, exist_ok=True)
        for path in self.folder.iterdir():  # what another process holds open on Windows
            with suppress(OSError):
                path.unlink()
        store.create(self.folder)
        self._write(Stamp(), fingerprint, {}, {}, wanted, sorted(wanted), page, set())

    def _update(
        self,
        stamp: Stamp,
        fingerprint: str,
        wanted: dict[str, str],
        page: Callable[[str], Page],
    ) -> bool:
        pages = self.pages(stamp)
        changed = [
            path for path, mark in wanted.items() if path not in pages or pages[path][2] != mark
        ]
        gone = [path for path in pages if path not in wanted]
        members: dict[str, list[str]] = {}
        for path, (segment, _, _) in pages.items():
            members.setdefault(segment, []).append(path)
        again = dict.fromkeys(changed)
        dropped: set[str] = set()
        for segment in sorted(members, key=lambda name: len(members[name])):
            left = [path for path in members[segment] if path in wanted]
            if len(members) > 1 and again and len(left) <= FOLD_IN * len(again):
                again.update(dict.fromkeys(left))
                dropped.add(segment)
        deleted: dict[str, set[int]] = {}
        for path in {*again, *gone} & pages.keys():
            segment, doc, _ = pages[path]
            if segment not in dropped:
                deleted.setdefault(segment, set()).add(doc)
        from kb.index import store

        segments = {held.id: held for held in store.open_segments(self.folder, stamp.generation)}
        try:
            gone_count = sum(len(held.deleted) for held in segments.values())
            gone_count += sum(map(len, deleted.values()))
            total = sum(held.count for held in segments.values())
            if gone_count > GONE_FRACTION * max(total, 12):
                return False
            ghosts = self._ghosts(stamp, segments, deleted, dropped)
        finally:
            for held in segments.values():
                held.close()
        kept = {p: row for p, row in pages.items() if p in wanted and p not in again}
        marks = {segment: frozenset(docs) for segment, docs in deleted.items()}
        self._write(
            stamp, fingerprint, kept, {"deleted": marks, "ghosts": ghosts}, wanted, sorted(again),
            page, dropped,
        )  # fmt: skip
        return True

    def _ghosts(
        self,
        stamp: Stamp,
        segments: Mapping[str, Any],
        deleted: Mapping[str, set[int]],
        dropped: set[str],
    ) -> dict[str, dict[str, tuple[int, float]]]:
        from kb.index.pages import entries

        ghosts = {s: held for s, held in self.ghosts(stamp).items() if s not in dropped}
        for segment, docs in deleted.items():
            held = ghosts.setdefault(segment, {})
            for doc in docs:
                if doc in segments[segment].deleted:
                    continue
                found, _ = entries(segments[segment].stored(doc))
                for name, (weight, _) in found.items():
                    count, whole = held.get(name, (0, 0))
                    held[name] = (count + 1, whole + weight)
        return ghosts

    def _write(
        self,
        stamp: Stamp,
        fingerprint: str,
        kept: Pages,
        parts: dict[str, Any],
        wanted: Mapping[str, str],
        paths: Iterable[str],
        page: Callable[[str], Page],
        dropped: set[str],
    ) -> None:
        from kb.index import store
        from kb.index.pages import entries, record, surface

        writer = store.open_writer(self.folder)
        segment = store.segment_id(writer)
        rows: Pages = dict(kept)
        seen: set[str] = set()
        for path in paths:
            note = page(path)
            found, length = entries(note)
            rows[path] = (segment, writer.add_page(found, record(note), length), wanted[path])
            seen.update(surface(note))
        generation = store.commit(writer, parts.get("deleted", {}), dropped)
        words = self._words_file(stamp, seen, generation)
        self._put(f"pages-{generation}.json", rows)
        if parts.get("ghosts"):
            self._put(f"ghosts-{generation}.json", parts["ghosts"])
        self._put(
            "stamp.json",
            asdict(
                Stamp(schema=SCHEMA, fingerprint=fingerprint, generation=generation, words=words)
            ),
        )
        self._clean(generation, words)

    def _words_file(self, stamp: Stamp, seen: set[str], generation: int) -> str:
        known = set(self.words(stamp)) if stamp.words else set()
        if stamp.words and seen <= known:
            return stamp.words
        name = f"words-{generation}.txt"
        text = "\n".join(sorted(known | seen))
        (self.folder / name).write_text(text, encoding="utf-8", newline="\n")
        return name

    def _put(self, name: str, value: object) -> None:
        raw = json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode()
        path = self.folder / name
        beside = path.with_suffix(".new")
        beside.write_bytes(raw)
        beside.replace(path)

    def _clean(self, generation: int, words: str) -> None:
        keep = {f"pages-{generation}.json", f"ghosts-{generation}.json", words, "stamp.json"}
        for path in self.folder.iterdir():
            if path.name not in keep and path.name.startswith(("pages-", "ghosts-", "words-")):
                with suppress(OSError):
                    path.unlink()
