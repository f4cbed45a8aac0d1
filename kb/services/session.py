"""One open base, and the verbs that command line and page share.

Everything derived is brought up to date here, on use; the pure rings get plain records.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, time
from functools import cached_property, partial
from itertools import count
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from kb.core import plugins
from kb.core.errors import NotFoundError, nearest
from kb.presentation.options import chosen
from kb.search.from_base import Pages, facts_of
from kb.storage.base_facts import (
    BaseFacts,
    carded_paths,
    keep_cards,
    keep_facts,
    read_cards,
    read_facts,
)
from kb.storage.base_location import EXAM, GLOSSARY
from kb.storage.note_catalogue import Catalogue
from kb.storage.report_cache import code_mark
from kb.storage.scan import scan

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path
    from types import ModuleType

    from kb.charts import Chart
    from kb.core.model import Base, Note
    from kb.core.search_result import Hit, SearchResult
    from kb.core.settings import Exam, Study
    from kb.presentation.report_model import Report
    from kb.search import Index, Page
    from kb.storage.attempt_store import LogMemory
    from kb.storage.scan import FileStat

REPORTS = "kb.reports"
PROMISED = ("OPTIONS", "build")
PROGRESS = "progress"
"""Key of the line about the week's progress."""
WITH_PROGRESS = ("today", "queue", "standing", "forecast", "plan")
"""Reports that this line heads."""


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
        self._seen: tuple[FileStat, ...] = ()
        self.watch: Watch = _unwatched

    @cached_property
    def _memory(self) -> LogMemory:
        from kb.storage.attempt_store import LogMemory

        return LogMemory()

    @cached_property
    def whole(self) -> Base:
        """The base as loaded, not cut to any day."""
        from kb.formats.exam import check_day
        from kb.storage.base_folder import load

        found = load(self.root, self.catalogue, self._memory, self.files)
        check_day(found.exam.date, max(self._now.date(), self.as_of or date.min), EXAM)
        return found

    @cached_property
    def files(self) -> tuple[FileStat, ...]:
        """All files of the base as they were looked at; the catalogue is up to date with them."""
        self.catalogue.step = lambda done, total: self.watch("Reading notes", done, total)
        files = self._seen or scan(self.root)
        self.catalogue.refresh(files)
        return files

    @cached_property
    def _base_mark(self) -> str:
        """Stands for all but the text of the notes; empty where that may change unseen."""
        _ = self.files
        return self.catalogue.base_mark(code_mark())

    @cached_property
    def facts(self) -> BaseFacts:
        """What a search must know of the base; it is read for that only when it changed."""
        kept = read_facts(self.catalogue, self._base_mark)
        if kept is None:
            kept = BaseFacts(self.study.timezone, self.errors)
            keep_facts(self.catalogue, self._base_mark, kept, facts_of(self.whole))
        return kept

    @property
    def errors(self) -> tuple[str, ...]:
        """The errors of the base, each as one line; cautions are left to `check`."""
        if not self.ready(indexed=False):
            return self.facts.errors
        return tuple(str(problem) for problem in self.whole.problems if problem.severity == "error")

    @property
    def fingerprint(self) -> str:
        """Stands for the files, the day and the program; empty where a file may change unseen."""
        _ = self.files
        mark = self.catalogue.mark
        return f"{mark} {self.today} {code_mark()}" if mark else ""

    @cached_property
    def base(self) -> Base:
        """The base as it stands on `today`."""
        from kb.core import base_views

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
        known = self.ready(indexed=False)
        zone = ZoneInfo(self.study.timezone if known else self.facts.timezone)
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
        for name in ("whole", "base", "now", "index", "files", "facts", "_base_mark"):
            self.__dict__.pop(name, None)

    def later(self, now: datetime) -> Session:
        """The same base at another moment: read again only when a file of it changed since."""
        after = Session(self.root, now=now, device=self.device, as_of=self.as_of)
        after._seen, after.watch = scan(self.root), self.watch
        after.catalogue, after._memory = self.catalogue, self._memory
        if after._seen == self._seen:
            kept = ("whole", "index", "files", "facts", "_base_mark")
            after.__dict__.update({k: v for k, v in self.__dict__.items() if k in kept})
            if "base" in self.__dict__ and after.today == self.today:
                after.__dict__["base"] = self.base
        return after

    def ready(self, *, indexed: bool) -> bool:
        """Whether the base, and the index if it is wanted, are loaded already."""
        return "whole" in self.__dict__ and (not indexed or "index" in self.__dict__)

    # Looking

    def note(self, handle: str) -> Note:
        """The note of that id, path or title, or the only one whose id begins so.

        Raises:
            NotFoundError: There is none, or several; the hint offers the nearest, or their paths.
        """
        from kb.core.lookup import named_note

        return named_note(self.base.notes, handle)

    def text(self, note: Note) -> tuple[str, str]:
        """The whole text of a note's file, and its digest."""
        from kb.storage.base_folder import read_note

        return read_note(self.root, note.path)

    def body(self, note: Note) -> str:
        """A note's text without its front matter."""
        from kb.formats.frontmatter import split

        return split(self.text(note)[0], note.path)[0].body

    def beside(self, path: str) -> bytes:
        """The bytes of a picture or other file of the base.

        Raises:
            NotFoundError: The base has no such file, or it lies behind a link.
        """
        if path not in self.whole.files:
            raise NotFoundError(f"no file '{path}' in the base")
        from kb.storage.base_folder import read_beside

        return read_beside(self.root, path)

    @cached_property
    def index(self) -> Index:
        """The full-text index, up to date."""
        from kb.search import Index

        _ = self.facts
        index = Index(self.catalogue.store, self.root / GLOSSARY)
        pages = Pages(self.root, self.catalogue, everything=index.empty)
        total = len(self.whole.notes) if index.empty else 0
        done = count(1)

        def page(path: str) -> Page:
            self.watch("Taking notes into the search", next(done), total)
            return pages.page(path)

        index.sync(self.catalogue.mark, pages.digests, page)
        return index

    def search(
        self,
        words: str,
        *,
        limit: int = 10,
        start: int = 0,
        paths: frozenset[str] | None = None,
    ) -> SearchResult:
        """Notes for words as typed, best first; `paths` restricts the answer to those notes."""
        if paths is None and self._later_count:
            paths = frozenset(note.path for note in self.base.notes)
            found = self.index.search(words, limit=limit, start=start, paths=paths)
            return found if found.hits else replace(found, later=self._dated_later(words, paths))
        return self.index.search(words, limit=limit, start=start, paths=paths)

    def _dated_later(self, words: str, there: frozenset[str]) -> tuple[tuple[str, date], ...]:
        """Title and day of the notes found that are dated after `today`; `there` are the others."""
        ahead = {hit.path for hit in self.index.search(words).hits} - there
        notes = [note for note in self.whole.notes if note.path in ahead] if ahead else []
        return tuple((note.title, note.written_on) for note in notes if note.written_on)

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
        options = chosen(name, module.OPTIONS, given, lambda: self.exam)
        if hasattr(module, "cards"):
            return self._found(module, options)
        if getattr(module, "SEARCHES", ""):
            options["search"] = partial(self.search, limit=module.SEARCH_LIMIT)
        if getattr(module, "NEEDS_INDEX", False):
            options["index"] = self.index
        report: Report = module.build(self.base, self.today, **options)
        return self._with_progress(report) if name in WITH_PROGRESS else report

    def _found(self, module: ModuleType, options: dict[str, Any]) -> Report:
        """A report on notes found: shown from their cards, without the base."""
        mark = f"{self._base_mark} {self.today}" if self._base_mark else ""
        made: dict[str, Any] | None = None
        if not mark or read_cards(self.catalogue, mark, ()) is None:
            made = self._make_cards(module, mark)
        filtered = any(options[name] not in (None, "") for name in module.FILTERS)
        if filtered:
            paths = module.paths(self.base, self.today, **options)
        else:
            paths = carded_paths(self.catalogue) if made is None else frozenset(made)
        words, page = str(options[module.SEARCHES] or ""), int(options.get("page") or 1)
        limit, answer = int(module.SEARCH_LIMIT), None
        if words.strip():
            start = (page - 1) * limit
            answer = self.index.search(words, limit=limit, start=start, paths=paths)
            if paths is not None and not (answer.hits or filtered):
                answer = replace(answer, later=self._dated_later(words, paths))
        found = [hit.path for hit in (*answer.hits, *answer.sharing)] if answer else []
        rows = read_cards(self.catalogue, mark, found) if made is None else None
        if rows is not None:
            cards = {path: module.Card(*row) for path, row in rows.items()}
        else:
            cards = made or self._make_cards(module, mark)
        report: Report = module.build(cards, words=words, page=page, answer=answer)
        return report

    def _make_cards(self, module: ModuleType, mark: str) -> dict[str, Any]:
        """The cards of all notes by path, kept where `mark` says for what they hold."""
        made = {card.path: card for card in module.cards(self.base, self.today).values()}
        if mark:
            keep_cards(self.catalogue, mark, made)
        return made

    def chart(self, name: str, given: Mapping[str, Any] | None = None) -> Chart:
        """Build one chart, not yet drawn; options not given take their defaults.

        Raises:
            NotFoundError: No such chart, or an option names something that is not there.
            QueryError: An option's value is not of its kind.
        """
        from kb.charts import chart_module

        module = chart_module(name)
        options = chosen(name, module.OPTIONS, given, lambda: self.exam)
        chart: Chart = module.build(self.base, self.today, **options)
        return chart

    def _with_progress(self, report: Report) -> Report:
        """The report with the week's progress against the plan in one line at its top."""
        from kb.planning.progress import progress_line
        from kb.presentation.report_model import Text

        line = progress_line(self.base, self.today)
        first = Text(text=line, key=PROGRESS)
        return replace(report, blocks=(first, *report.blocks)) if line else report
