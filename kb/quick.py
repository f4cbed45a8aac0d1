"""The short way to answer a search: from what was kept, when nothing changed since.

It gives the same report as the long way, only sooner, and never anything else: whatever is
missing, stale or damaged, it steps aside.
"""

from __future__ import annotations

from datetime import date, datetime, timedelta
from threading import Thread
from typing import TYPE_CHECKING, Any

from kb import discover
from kb.kept import RACY_NS, Header, Kept, Look, look

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from kb.blocks import Report
    from kb.session import Session


class Quick:
    """One attempt at the short way.

    Args:
        start: The folder the person is in.
        named: The base as the person named it, if they did.
        now: The present moment, aware.
    """

    def __init__(self, start: Path, named: str | None, now: datetime) -> None:
        self._root = _find_root(start, named)
        self._now = now.timestamp()
        self._seen: Look | None = None
        self._thread = Thread(target=self._look, daemon=True)
        if self._root:
            self._thread.start()

    def _look(self) -> None:
        try:
            self._seen = look(self._root) if self._root else None
        except OSError:
            self._seen = None

    def find(self, given: Mapping[str, Any], report: str = "find") -> tuple[Report, date] | None:
        """The report and the day, or None when only the long way will do.

        Args:
            given: Options as typed; only words and page can be answered in short.
            report: Which report.
        """
        if not self._root:
            return None
        kept = Kept(self._root / ".missbook")
        header = kept.header()
        if header is None or not header.day_begins <= self._now < header.day_ends:
            return None
        words, page = _only_words(given)
        if not words or page < 1:
            return None
        # The index is opened while the other thread waits for the disk.
        from kb.index import Index

        module = discover.load("kb.reports", report, ("show", "Card", "SEARCH_LIMIT"))
        index = Index(kept.folder, self._root / "glossary.yaml")
        try:
            if not index.holds(header.fingerprint):
                return None
            limit = module.SEARCH_LIMIT
            answer = index.search(words, limit=limit, start=(page - 1) * limit)
        except Exception:  # a damaged index is made anew on the long way
            return None
        finally:
            index.close()
        self._thread.join()
        if self._seen is None or self._seen.mark != header.mark:
            return None
        rows = kept.rows(hit.note for hit in answer.hits)
        cards = {name: module.Card(*_tuples(row)) for name, row in rows.items()}
        return module.show(words, page, answer, cards), date.fromisoformat(header.day)

    def keep(self, session: Session) -> None:
        """Keep the cards the long way made, unless a file may still change unseen."""
        if not self._root or session.as_of is not None or not session.cards:
            return
        self._thread.join()
        seen = self._seen
        if seen is None or seen.newest_ns > self._now * 1e9 - RACY_NS:
            return
        if len(session.base.notes) < len(session.whole.notes):  # some are dated ahead of today
            return
        if any(problem.severity == "error" for problem in session.whole.problems):
            return
        zone, today = session.now.tzinfo, session.today
        begins = datetime(today.year, today.month, today.day, tzinfo=zone)
        tomorrow = today + timedelta(days=1)
        ends = datetime(tomorrow.year, tomorrow.month, tomorrow.day, tzinfo=zone)
        kept = Kept(session.catalogue.folder)
        header = Header.fresh(
            seen, session.index.fingerprint, str(today), begins.timestamp(), ends.timestamp()
        )
        kept.write(header, session.cards)


def _find_root(start: Path, named: str | None) -> Path | None:
    from pathlib import Path

    if named:
        root = Path(named).expanduser()
        return root if (root / "exam.yaml").is_file() else None
    for folder in (start, *start.parents):
        if (folder / "exam.yaml").is_file():
            return folder
    return None


def _only_words(given: Mapping[str, Any]) -> tuple[str, int]:
    """Words and page, or no words when anything else was asked for."""
    for name, value in given.items():
        if name not in ("words", "page") and value not in (None, "", (), False):
            return "", 0
    words = given.get("words") or ""
    return words if isinstance(words, str) else " ".join(words), int(given.get("page") or 1)


def _tuples(row: tuple[object, ...]) -> tuple[object, ...]:
    """JSON has lists only; a record holds tuples."""
    return tuple(tuple(value) if isinstance(value, list) else value for value in row)
