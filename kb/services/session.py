"""One open base, and the verbs that command line and page share.

Everything derived is brought up to date here, on use; the pure rings get plain records.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, time
from functools import cached_property
from itertools import count
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from kb.core import base_views, plugins
from kb.core.errors import NotFoundError, nearest
from kb.core.ids import digest
from kb.core.lookup import named_note
from kb.formats.exam import check_day
from kb.formats.frontmatter import split
from kb.presentation.options import chosen
from kb.search.from_base import Pages
from kb.storage import attempt_store
from kb.storage import base_folder as store
from kb.storage.note_catalogue import Catalogue, scan

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path
    from types import ModuleType

    from kb.charts import Chart
    from kb.core.model import Base, Hit, Note, SearchResult
    from kb.core.settings import Exam, Study
    from kb.presentation.report_model import Report
    from kb.search import Index, Page
    from kb.storage.note_catalogue import FileStat

REPORTS = "kb.reports"
PROMISED = ("MOMENT", "OPTIONS", "build")
WEEKLY = "each week"
PROGRESS = "progress"
"""Key of the line that heads every weekly report."""


def report_names() -> tuple[str, ...]:
    """Every report there is, by file name."""
    return plugins.module_names(REPORTS)


def report_module(name: str) -> ModuleType:
    """The module of one report, imported on use."""
    return plugins.load(REPORTS, name, PROMISED)


Watch = Callable[[str, int, int], None]
"""Told of long work as it goes on: what is done, how much so far, of how much (0 unknown)."""


def _unwatched(_what: str, _done: int, _total: int) -> None:
    """Nobody watches."""


class Session:
    """A base opened for one request.

    Args:
        root: The base's folder.
        now: The present moment, aware.
        device: Names this device's log files.
        as_of: Look at the base as it stood at the end of that day.
    """

    def __init__(
        self, root: Path, *, now: datetime, device: str, as_of: date | None = None
    ) -> None:
        self.root, self.device, self.as_of = root, device, as_of
        self._now = now
        self.catalogue = Catalogue(root)
        self._memory = attempt_store.LogMemory()
        self.cards: Mapping[str, tuple[object, ...]] = {}
        self._seen: tuple[FileStat, ...] = ()
        self.watch: Watch = _unwatched

    @cached_property
    def whole(self) -> Base:
        """The base as loaded, not cut to any day."""
        found = store.load(self.root, self.catalogue, self._memory, self._look[0])
        check_day(found.exam.date, max(self._now.date(), self.as_of or date.min), store.EXAM)
        return found

    @cached_property
    def _look(self) -> tuple[tuple[FileStat, ...], str]:
        """The files as they are, and what stands for all notes; the catalogue is up to date."""
        self.catalogue.step = lambda done, total: self.watch("Reading notes", done, total)
        return store.look(self.root, self.catalogue, self._seen)

    @property
    def files(self) -> tuple[FileStat, ...]:
        """All files of the base as they were looked at before it was read."""
        return self._look[0]

    @cached_property
    def base(self) -> Base:
        """The base as it stands on `today`."""
        base = base_views.as_of(self.whole, self.today)
        return (
            base_views.note_later_dates(base, self.whole, self.today)
            if self.as_of is None
            else base
        )

    @property
    def exam(self) -> Exam:
        """The exam of the base."""
        return self.whole.exam

    @property
    def study(self) -> Study:
        """The settings of the person."""
        return self.whole.study

    @cached_property
    def now(self) -> datetime:
        """The present moment on the doctor's clock; noon of the day when `as_of` is given."""
        zone = ZoneInfo(self.study.timezone)
        if self.as_of is not None:
            return datetime.combine(self.as_of, time(12), zone)
        return self._now.astimezone(zone).replace(microsecond=0)

    @property
    def today(self) -> date:
        """The day everything is computed for."""
        return self.as_of or self.now.date()

    def reload(self) -> None:
        """Forget what was loaded; the next use reads the disk again."""
        self._seen = ()
        for name in ("whole", "base", "now", "index", "_pages", "_look"):
            self.__dict__.pop(name, None)

    def later(self, now: datetime) -> Session:
        """The same base at another moment: read again only when a file of it changed since."""
        after = Session(self.root, now=now, device=self.device, as_of=self.as_of)
        after._seen, after.watch = scan(self.root), self.watch
        after.catalogue, after._memory = self.catalogue, self._memory
        if after._seen == self._seen:
            kept = ("whole", "index", "_pages", "_look")
            after.__dict__.update({k: v for k, v in self.__dict__.items() if k in kept})
            if "base" in self.__dict__ and after.today == self.today:
                after.__dict__["base"] = self.base
        return after

    def ready(self, *, indexed: bool) -> bool:
        """Whether the base, and the index if it is wanted, are loaded already."""
        return "base" in self.__dict__ and (not indexed or "index" in self.__dict__)

    # Looking

    def note(self, handle: str) -> Note:
        """The note of that id, path or title, or the only one whose id begins so.

        Raises:
            NotFoundError: There is none, or several; the hint offers the nearest, or their paths.
        """
        return named_note(self.base.notes, handle)

    def text(self, note: Note) -> tuple[str, str]:
        """The whole text of a note's file, and its digest."""
        return store.read_note(self.root, note.path)

    def body(self, note: Note) -> str:
        """A note's text without its front matter."""
        return split(self.text(note)[0], note.path)[0].body

    def beside(self, path: str) -> bytes:
        """The bytes of a picture or other file of the base.

        Raises:
            NotFoundError: The base has no such file, or it lies behind a link.
        """
        if path not in self.whole.files:
            raise NotFoundError(f"no file '{path}' in the base")
        return store.read_beside(self.root, path)

    @cached_property
    def index(self) -> Index:
        """The full-text index, up to date."""
        from kb.search import Index

        index = Index(self.catalogue.folder, self.root / store.GLOSSARY)
        found, notes = self._look
        stamp = digest(notes, str(store.log_stamp(found)))
        index.sync(stamp, self._page_digests, self._counted_page(not index.fingerprint))
        return index

    @cached_property
    def _pages(self) -> Pages:
        return Pages(self.root, self.catalogue, self.whole)

    def _page_digests(self) -> dict[str, str]:
        """Asked for only when a file changed since the index was last up to date."""
        return self._pages.digests()

    def _counted_page(self, everything: bool) -> Callable[[str], Page]:
        """A page by its path, telling who watches; of how many when all are to be taken in."""
        total = len(self.whole.notes) if everything else 0
        done = count(1)

        def page(path: str) -> Page:
            self.watch("Taking notes into the search", next(done), total)
            return self._pages.page(path)

        return page

    def search(
        self,
        words: str,
        *,
        limit: int = 10,
        start: int = 0,
        paths: frozenset[str] | None = None,
        prefix: bool = False,
    ) -> SearchResult:
        """Notes for words as typed, best first; `paths` restricts the answer to those notes."""
        if paths is None and self._later_count:
            paths = frozenset(note.path for note in self.base.notes)
        return self.index.search(words, limit=limit, start=start, paths=paths, prefix=prefix)

    def similar(self, text: str, *, limit: int = 10) -> tuple[Hit, ...]:
        """Notes whose text is nearest to `text`, best first."""
        hits = self.index.similar(text, limit=limit + self._later_count)
        if self._later_count:
            there = {note.id for note in self.base.notes}
            hits = tuple(hit for hit in hits if hit.note in there)
        return hits[:limit]

    @property
    def _later_count(self) -> int:
        """Notes that the index has and the base, as it stands on `today`, has not."""
        return len(self.whole.notes) - len(self.base.notes)

    def report(self, name: str, given: Mapping[str, Any] | None = None) -> Report:
        """Build one report; options not given take their defaults.

        Raises:
            NotFoundError: No such report, or an option names something that is not there.
            QueryError: An option's value is not of its kind.
        """
        if name not in report_names():
            hint = nearest(name, report_names())
            raise NotFoundError(f"no report called '{name}'", hint=hint)
        module = report_module(name)
        options = chosen(name, module.OPTIONS, given, self.exam)
        wanted = getattr(module, "SEARCHES", "")
        if wanted:
            among = getattr(module, "paths", None)
            paths = among(self.base, self.today, **options) if among else None
            options["answer"] = self._answer(str(options[wanted] or ""), module, options, paths)
        if getattr(module, "NEEDS_INDEX", False):
            options["index"] = self.index
        if hasattr(module, "cards"):
            options["known"] = self.cards = module.cards(self.base, self.today)
        report: Report = module.build(self.base, self.today, **options)
        return self._with_progress(report) if module.MOMENT == WEEKLY else report

    def chart(self, name: str, given: Mapping[str, Any] | None = None) -> Chart:
        """Build one chart, not yet drawn; options not given take their defaults.

        Raises:
            NotFoundError: No such chart, or an option names something that is not there.
            QueryError: An option's value is not of its kind.
        """
        from kb.charts import chart_module

        module = chart_module(name)
        options = chosen(name, module.OPTIONS, given, self.exam)
        chart: Chart = module.build(self.base, self.today, **options)
        return chart

    def _with_progress(self, report: Report) -> Report:
        """The report with the week's progress against the plan in one line at its top."""
        from kb.planning.progress import progress_line
        from kb.presentation.report_model import Text

        line = progress_line(self.base, self.today)
        first = Text(text=line, key=PROGRESS)
        return replace(report, blocks=(first, *report.blocks)) if line else report

    def _answer(
        self, words: str, module: ModuleType, options: dict[str, Any], paths: frozenset[str] | None
    ) -> SearchResult | None:
        if not words.strip():
            return None
        limit = int(getattr(module, "SEARCH_LIMIT", 10))
        start = (int(options.get("page") or 1) - 1) * limit
        return self.search(words, limit=limit, start=start, paths=paths)
