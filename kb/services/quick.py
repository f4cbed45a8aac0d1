"""The short way to answer a search: from what was kept, when nothing changed since.

It gives the same report as the long way, only sooner, and never anything else: whatever is
missing, stale or damaged, it steps aside.
"""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING, Any

from kb.core import plugins
from kb.core.ids import NoteId
from kb.formats.outline import halves, head_mark, outline
from kb.storage.ahead import base_at, glance
from kb.storage.kept import Header, Kept, span_of_day
from kb.storage.scan import RACY_NS, is_note, look

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import datetime
    from pathlib import Path

    from kb.presentation.report_model import Report
    from kb.search import Index, Page
    from kb.search.document import Record
    from kb.services.session import Session


class Quick:
    """One attempt at the short way.

    Args:
        start: The folder the person is in.
        named: The base as the person named it, if they did.
        now: The present moment, aware.
        as_of: The day the person named, if they did.
    """

    def __init__(
        self, start: Path, named: str | None, now: datetime, as_of: date | None = None
    ) -> None:
        self._root = root = base_at(start, named)
        self._now = now.timestamp()
        self._as_of = str(as_of or "")
        # The disk is looked at while all else is prepared.
        self._seen = glance(root) if root else None

    def find(self, given: Mapping[str, Any], report: str = "find") -> tuple[Report, date] | None:
        """The report and the day, or None when only the long way will do.

        Args:
            given: Options as typed; only words and page can be answered in short.
            report: Which report.
        """
        if not self._root or not self._seen:
            return None
        kept = Kept(self._root / ".missbook")
        header = kept.header()
        if header is None or not header.holds(self._now, self._as_of):
            return None
        words, page = _only_words(given)
        if not words or page < 1:
            return None
        from kb.search import Index

        module = plugins.load("kb.reports", report, ("show", "Card", "SEARCH_LIMIT"))
        limit, index = module.SEARCH_LIMIT, Index(kept.folder, self._root / "glossary.yaml")
        start = (page - 1) * limit
        try:
            if not index.holds(header.fingerprint):
                return None
            answer = index.search(words, limit=limit, start=start)
            seen = self._seen.result()
            if seen is None or seen.edited is None or seen.kept_mark != header.mark:
                return None
            if seen.edited:
                edited = edited_pages(self._root, seen.edited, index)
                if edited is None:
                    return None
                if edited:
                    index.lay_over(edited)
                    answer = index.search(words, limit=limit, start=start)
        except Exception:  # a damaged index is made anew on the long way
            return None
        finally:
            index.close()
        rows = kept.rows(hit.note for hit in answer.hits)
        cards = {name: module.Card(*_tuples(row)) for name, row in rows.items()}
        return module.show(words, page, answer, cards), date.fromisoformat(header.day)

    def keep(self, session: Session) -> None:
        """Keep the cards the long way made, unless a file may still change unseen."""
        if not self._root or not self._seen or not session.cards:
            return
        if len(session.base.notes) < len(session.whole.notes):  # some are dated ahead of today
            return
        if any(problem.severity == "error" for problem in session.whole.problems):
            return
        before, fingerprint = self._seen.result(), session.index.fingerprint
        try:
            seen = look(self._root)
        except OSError:
            return
        since_ns = int(self._now * 1e9) - RACY_NS
        if before is None or seen.mark != before.mark:
            return  # something changed meanwhile
        if any(mtime > since_ns and not is_note(path) for path, _, mtime in seen.entries):
            return
        begins, ends = span_of_day(session.now)
        kept = Kept(session.catalogue.folder)
        header = Header.fresh(seen, fingerprint, str(session.today), begins, ends, self._as_of)
        kept.write(header, session.cards, seen, since_ns)


def edited_pages(root: Path, paths: Iterable[str], index: Index) -> list[Page] | None:
    """Notes as they are now, of those whose text is no longer what the index holds.

    None when more than the text under the front matter changed: the title, a link, or anything
    that tells when a note was written and which questions it answers.
    """
    found = []
    for path in paths:
        record = index.record_at(path)
        try:
            text = (root / path).read_bytes().decode("utf-8")
        except ValueError:
            return None
        if record is None or not record[9]:
            return None
        head, body, line, _ = halves(text)
        if head_mark(head) != record[9]:
            return None
        if body == record[6]:
            continue
        before, now = _told_by(record[6], path), _told_by(body, path)
        if before[1:] != now[1:]:
            return None
        found.append(_page(record, body, line, now[0]))
    return found


def _page(record: Record, body: str, line: int, headings: tuple[str, ...]) -> Page:
    from kb.search import Page

    return Page(
        id=NoteId(record[0]),
        path=record[1],
        digest="",
        title=record[2],
        areas=record[3],
        concepts=record[4],
        headings=headings,
        body=body,
        remarks=record[7],
        line=line,
        head=record[9],
    )


def _told_by(
    body: str, path: str
) -> tuple[tuple[str, ...], str | None, tuple[tuple[str, str], ...]]:
    """Headings of a body, the first that may be the title, and links as (target, text)."""
    plain = outline(body)
    if plain is not None:
        heads = [(level, text) for level, text, _ in plain[0]]
        links = tuple((target, text) for target, text, _ in plain[1])
    else:
        from kb.formats.markdown import structure

        headings, targets = structure(body, path, 1)
        heads = [(heading.level, heading.text) for heading in headings]
        links = tuple((link.target, link.text) for link in targets)
    title = next((text for level, text in heads if level == 1), None)
    return tuple(text for _, text in heads), title, links


def _only_words(given: Mapping[str, Any]) -> tuple[str, int]:
    """Words and page, or no words when anything else was asked for."""
    for name, value in given.items():
        if name not in ("words", "page") and value not in (None, "", (), False):
            return "", 0
    words = given.get("words") or ""
    words = words if isinstance(words, str) else " ".join(words)
    return words if words.strip() else "", int(given.get("page") or 1)


def _tuples(row: tuple[object, ...]) -> tuple[object, ...]:
    """JSON has lists only; a record holds tuples."""
    return tuple(tuple(value) if isinstance(value, list) else value for value in row)
