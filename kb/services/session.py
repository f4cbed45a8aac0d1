"""One open base, as command line and page share it.

Everything derived is brought up to date here, on use; the pure rings get plain records.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, time
from functools import partial
from itertools import count
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

from kb.core.errors import NotFoundError
from kb.presentation.options import chosen
from kb.presentation.report_model import Text, day_line
from kb.search.from_base import Pages, facts_of
from kb.services.open_folder import Loaded, OpenFolder, Watch
from kb.services.report_registry import (
    as_cards,
    as_search,
    needs_index,
    report_module,
)
from kb.storage import report_cache
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
from kb.storage.scan import scan

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from kb.charts import Chart
    from kb.core.model import Base, Note
    from kb.core.search_result import Hit, SearchResult
    from kb.core.settings import Exam, Study
    from kb.presentation.report_model import Report
    from kb.presentation.report_module import CardReport
    from kb.search import Index, Page
    from kb.storage.acts import Recorder
    from kb.storage.scan import FileStat

AT_RISK = ("today", "queue", "plan", "reread", "brief", "retry", "map", "mixups")
"""Reports that need what is at risk on each question, which is kept between them."""


class Session:
    """A base opened for one request.

    Args:
        root: The base's folder.
        now: The present moment, aware.
        device: Names this device's log files.
        as_of: Look at the base as it stood at the end of that day.
        folder: What an earlier session of the same base has read.
    """

    def __init__(
        self,
        root: Path,
        *,
        now: datetime,
        device: str,
        as_of: date | None = None,
        folder: OpenFolder | None = None,
    ) -> None:
        self.root, self.device, self.as_of = root, device, as_of
        self._now = now
        self._folder = folder or OpenFolder(root)
        self._recorder: Recorder | None = None

    @property
    def catalogue(self) -> Catalogue:
        """The catalogue of the notes."""
        return self._folder.catalogue

    @property
    def watch(self) -> Watch:
        """Who is told of long work."""
        return self._folder.watch

    @watch.setter
    def watch(self, watch: Watch) -> None:
        self._folder.watch = watch

    @property
    def _loaded(self) -> Loaded:
        return self._folder.loaded

    @property
    def whole(self) -> Base:
        """The base as loaded, not cut to any day."""
        if self._loaded.whole is None:
            from kb.formats.exam import check_day
            from kb.storage.base_folder import load

            found = load(self.root, self.catalogue, self._folder.memory, self.files)
            check_day(found.exam.date, self.as_of or self._now.date(), EXAM)
            self._loaded.whole = found
        return self._loaded.whole

    @property
    def files(self) -> tuple[FileStat, ...]:
        """All files of the base as last seen; the catalogue is up to date with them."""
        if self._loaded.files is None:
            self.catalogue.step = lambda done, total: self.watch("Reading notes", done, total)
            files = self._loaded.seen or scan(self.root)
            self.catalogue.refresh(files)
            self._loaded.files = files
        return self._loaded.files

    @property
    def _base_mark(self) -> str:
        """Changes with anything but the text of the notes; empty where that may change unseen."""
        if self._loaded.base_mark is None:
            _ = self.files
            self._loaded.base_mark = self.catalogue.base_mark(report_cache.code_mark())
        return self._loaded.base_mark

    @property
    def facts(self) -> BaseFacts:
        """What a search must know of the base; the base is read for it only when it changed."""
        if self._loaded.facts is None:
            kept = read_facts(self.catalogue, self._base_mark)
            if kept is None:
                from kb.services.report_head import unknown_areas_line

                unknown = unknown_areas_line(self.whole)
                kept = BaseFacts(self.study.timezone, self.errors, self.exam.short_names, unknown)
                keep_facts(self.catalogue, self._base_mark, kept, facts_of(self.whole))
            self._loaded.facts = kept
        return self._loaded.facts

    @property
    def errors(self) -> tuple[str, ...]:
        """The errors of the base, each as one line; cautions are left to `check`."""
        if not self.ready(indexed=False):
            return self.facts.errors
        return tuple(str(problem) for problem in self.whole.problems if problem.severity == "error")

    @property
    def fingerprint(self) -> str:
        """Changes with the files, the day and the program; empty where a file may change unseen."""
        _ = self.files
        mark = self.catalogue.mark
        return f"{mark} {self.today} {report_cache.code_mark()}" if mark else ""

    @property
    def base(self) -> Base:
        """The base as of `today`."""
        from kb.core import base_views

        if self._loaded.base is None or self._loaded.base_day != self.today:
            base = base_views.as_of(self.whole, self.today)
            if self.as_of is None:
                base = base_views.note_later_dates(base, self.whole, self.today)
            self._loaded.base, self._loaded.base_day = base, self.today
        return self._loaded.base

    @property
    def exam(self) -> Exam:
        """The exam of the base."""
        return self.whole.exam

    @property
    def study(self) -> Study:
        """The settings of the person."""
        return self.whole.study

    @property
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

    def record_acts(self, at: datetime) -> Recorder:
        """Keep what is written from now on as one act, until the recorder is stopped."""
        from kb.storage.acts import Recorder

        self._recorder = Recorder(self.root, self.device, at).start()
        return self._recorder

    def name_act(self, title: str) -> None:
        """Say what the act that is being kept did, where its files do not say it."""
        if self._recorder:
            self._recorder.title = title

    def reload(self) -> None:
        """Forget what was loaded; the next use reads the disk again."""
        self._folder.loaded = Loaded()

    def later(self, now: datetime) -> Session:
        """The same base at another moment; it is read again only if a file has changed since."""
        seen = scan(self.root)
        if seen != (self._loaded.files or self._loaded.seen):
            self._folder.loaded = Loaded(seen=seen)
        own, device = self._folder, self.device
        return Session(self.root, now=now, device=device, as_of=self.as_of, folder=own)

    def ready(self, *, indexed: bool) -> bool:
        """Whether the base, and the index if it is wanted, are loaded already."""
        return self._loaded.whole is not None and (not indexed or self._loaded.index is not None)

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

    def attachment(self, path: str) -> bytes:
        """The bytes of a picture or other file of the base.

        Raises:
            NotFoundError: The base has no such file, or it lies behind a link.
        """
        if path not in self.whole.files:
            raise NotFoundError(f"no file '{path}' in the base")
        from kb.storage.base_folder import read_attachment

        return read_attachment(self.root, path)

    @property
    def index(self) -> Index:
        """The full-text index, up to date."""
        if self._loaded.index is None:
            self._loaded.index = self._synced_index()
        return self._loaded.index

    def _synced_index(self) -> Index:
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

    def search(self, words: str, *, limit: int = 10) -> SearchResult:
        """Notes for words as typed, best first."""
        paths = frozenset(note.path for note in self.base.notes) if self._later_count else None
        return self.index.search(words, limit=limit, paths=paths)

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
        module = report_module(name)
        options = chosen(module.OPTIONS, given, lambda: self.exam)
        if carded := as_cards(module):
            return self._found(name, carded, options)
        if searching := as_search(module):
            options["search"] = partial(self.search, limit=searching.SEARCH_LIMIT)
        if needs_index(module):
            options["index"] = self.index
        from kb.services.report_head import with_head
        from kb.stats.marks_at_risk import risk_of

        if name in AT_RISK:
            kept = partial(report_cache.kept_columns, self.catalogue, self.fingerprint, "risk")
            risk_of(self.base, self.today).kept = kept
        report = self._named(name, module.build(self.base, self.today, **options))
        return with_head(report, self.base, self.today)

    def recall(self, question: Mapping[str, object]) -> str | None:
        """The answer to the same question as it was printed, if it would be the same now."""
        return report_cache.recall(self.catalogue, self.fingerprint, question)

    def keep(self, question: Mapping[str, object], text: str) -> None:
        """Keep an answer as printed, until a file, the day or the program changes."""
        report_cache.keep(self.catalogue, self.fingerprint, question, text)

    def _named(self, name: str, report: Report) -> Report:
        """The report with its name, its day and the short names of the areas."""
        right = report.right or day_line(self.today, self.exam.date)
        areas = self.exam.short_names if self.ready(indexed=False) else self.facts.areas
        return replace(report, name=name, right=right, areas=areas)

    def _found(self, name: str, module: CardReport, options: dict[str, Any]) -> Report:
        """A report on notes found: shown from their cards, without the base."""
        mark, today = self._base_mark, self.today
        made: dict[str, Any] | None = None
        if not mark or read_cards(self.catalogue, mark, today, ()) is None:
            made = self._make_cards(module, mark)
        paths: frozenset[str] | None
        filtered = any(options[name] not in (None, "") for name in module.FILTERS)
        if filtered:
            paths = module.paths(self.base, today, **options)
        else:
            paths = carded_paths(self.catalogue) if made is None else frozenset(made)
        words, page = str(options[module.SEARCHES] or ""), int(options["page"])
        limit, answer = int(options["limit"]), None
        if words.strip():
            start = (page - 1) * limit
            answer = self.index.search(words, limit=limit, start=start, paths=paths)
            if paths is not None and not (answer.hits or filtered):
                answer = answer._replace(later=self._dated_later(words, paths))
        found = [hit.path for hit in (*answer.hits, *answer.sharing)] if answer else []
        rows = read_cards(self.catalogue, mark, today, found) if made is None else None
        if rows is not None:
            cards = {path: module.Card(*row) for path, row in rows.items()}
        else:
            cards = made or self._make_cards(module, mark)
        filters = {name: options.pop(name) for name in module.FILTERS}
        report = self._named(name, module.build(cards, answer=answer, filters=filters, **options))
        unknown = self.facts.unknown_areas
        head = (Text(unknown, key="unknown_areas"),) if unknown else ()
        return replace(report, blocks=(*head, *report.blocks))

    def _make_cards(self, module: CardReport, mark: str) -> dict[str, Any]:
        """The cards of all notes by path, kept where `mark` says for what they hold."""
        made = {card.path: card for card in module.cards(self.base, self.today).values()}
        if mark:
            from kb.core import base_views

            days = base_views.unchanged_days(self.whole, self.today)
            keep_cards(self.catalogue, mark, days, made)
        return made

    def chart(self, name: str, given: Mapping[str, Any] | None = None) -> Chart:
        """Build one chart, not yet drawn; options not given take their defaults.

        Raises:
            NotFoundError: No such chart, or an option names something that is not there.
            QueryError: An option's value is not of its kind.
        """
        from kb.charts import chart_module

        module = chart_module(name)
        options = chosen(module.OPTIONS, given, lambda: self.exam)
        chart: Chart = module.build(self.base, self.today, **options)
        return replace(chart, name=name, right=day_line(self.today, self.exam.date))
