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
from kb.core.errors import KBError, NotFoundError, QueryError, nearest
from kb.core.ids import AreaId, NoteId, parse_question
from kb.core.lookup import named_note, source_to_log
from kb.core.model import Aside, Score
from kb.formats import attempt_log
from kb.formats.exam import check_day
from kb.formats.frontmatter import set_value, split
from kb.formats.note import format_note, slug
from kb.formats.side_logs import LoggedSheet, sheet_digest
from kb.presentation.options import chosen
from kb.search.from_base import Pages
from kb.stats.import_batches import Import, imports_of, latest_of
from kb.storage import attempt_store
from kb.storage import base_folder as store
from kb.storage.note_catalogue import Catalogue, scan

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path
    from types import ModuleType

    from kb.charts import Chart
    from kb.core.ids import AttemptId, QuestionId
    from kb.core.model import Attempt, Base, Hit, Note, Reading, SearchResult
    from kb.core.settings import Exam, Study
    from kb.presentation.report_model import Report
    from kb.search import Index, Page
    from kb.storage.attempt_store import Added
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
        stamp = attempt_log.digest(notes, str(store.log_stamp(found)))
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

    # Taking in

    def question(self, text: str) -> QuestionId:
        """A question reference.

        Raises:
            QueryError: It has no source, or one that is a slip of a known one, or is none at all.
        """
        question = parse_question(text)
        if question is None:
            hint = "write source:item, such as north:1041"
            raise QueryError(f"'{text}' is not a question reference", hint=hint)
        source_to_log(self.base, question.partition(":")[0])
        return question

    def record(
        self,
        drafts: Iterable[Attempt],
        *,
        title: str,
        day_only: bool,
        again: bool = False,
        replaced: Iterable[AttemptId] = (),
    ) -> Added:
        """Add answers to the log as one import; those it has already are counted, not added.

        Args:
            drafts: Attempts without ids.
            title: Names the import; it goes into its id.
            day_only: The clock time was not given, so that the same answers on the same day are
                the same attempts.
            again: They were truly answered twice; add them even so.
            replaced: Answers in the log that these replace, taken back in the same write.

        Raises:
            QueryError: An answer is of a day before any log began, and would not be read again.
        """
        drafts = tuple(drafts)
        first = min((draft.day for draft in drafts), default=self.today)
        if first.year < attempt_log.EARLIEST_YEAR:
            raise QueryError(f"{first.isoformat()} is too long ago", hint="mend the day")
        batch = "b-" + attempt_log.digest(title, self.now.isoformat(), self.device)[:10]
        attempts = attempt_log.with_ids(drafts, batch, day_only=day_only)
        voids = tuple(
            attempt_log.Void(
                id=attempt_log.digest("void", old, batch),
                at=self.now,
                voids=old,
                remark=f"see {title}",
            )
            for old in replaced
        )
        added = attempt_store.append_attempts(
            self.root, self.device, attempts, again=again, voids=voids
        )
        self.reload()
        return added

    def record_entries(self, entries: Iterable[Attempt]) -> frozenset[AttemptId]:
        """Add answers given one by one, with ids; returns the ids that were new.

        An id that was ever given adds nothing. Those of one day and source are one import.
        """
        drafts = [
            replace(
                entry,
                batch=f"b-{attempt_log.digest('entries', self.device, *_place_of(entry))[:10]}",
            )
            for entry in entries
        ]
        new = attempt_store.append_entries(self.root, self.device, drafts)
        self.reload()
        return new

    def void(self, what: str, remark: str = "") -> int:
        """Take back one answer or a whole import by its id; returns how many answers it was.

        Raises:
            NotFoundError: No answer or import of that id counts now.
        """
        hit = [a for a in self.whole.attempts if what and what in (a.id, a.batch)]
        if not hit:
            known = {a.batch for a in self.whole.attempts} | {a.id for a in self.whole.attempts}
            hint = nearest(what, known) if len(what) > 3 else "missbook log imports lists them"
            raise NotFoundError(f"nothing in the log has the id '{what}'", hint=hint)
        void_id = attempt_log.digest("void", what, self.now.isoformat(), self.device)
        line = attempt_log.format_void(
            attempt_log.Void(id=void_id, at=self.now, voids=what, remark=remark)
        )
        attempt_store.append_record(self.root, self.device, line)
        self.reload()
        return len(hit)

    def record_scores(
        self, sitting: str, rows: list[tuple[str, int, int]], *, official: bool
    ) -> int:
        """Record a sitting's scores as (area, right, asked); returns how many were new."""
        scores = [
            Score(
                id=attempt_log.digest(
                    "score", sitting, area, str(right), str(items), str(self.today)
                ),
                at=self.now,
                sitting=sitting,
                area=AreaId(area),
                right_count=right,
                item_count=items,
                official=official,
            )
            for area, right, items in rows
        ]
        count = attempt_store.append_scores(self.root, self.device, scores)
        self.reload()
        return count

    def imports(self) -> tuple[Import, ...]:
        """Every import whose answers count, in the order in which each device took them in."""
        return imports_of(self.base.attempts, self.device)

    def latest(self, limit: int) -> tuple[Attempt, ...]:
        """Answers that this device logged last and that count, the latest first."""
        return latest_of(self.whole.attempts, self.device)[:limit]

    def last_batch(self) -> str:
        """Id of the import that this device took in last and that still counts, else empty."""
        mine = latest_of(self.base.attempts, self.device)
        return next((attempt.batch for attempt in mine if attempt.batch), "")

    def keep_aside(self, text: str) -> str:
        """Keep lines of standard input that were not understood; returns the file's path."""
        return attempt_store.append_aside(self.root, self.device, text)

    def logged_sheets(self) -> tuple[LoggedSheet, ...]:
        """Every answer sheet that was logged on any device, the earliest first."""
        return attempt_store.logged_sheets(self.root)

    def remember_sheet(self, name: str, raw: bytes, day: date, batch: str) -> None:
        """Remember that a sheet was logged, so that it is not logged twice."""
        sheet = LoggedSheet(
            at=self.now, name=name, size=len(raw), digest=sheet_digest(raw), day=day, batch=batch
        )
        attempt_store.append_sheet(self.root, self.device, sheet)

    def set_aside(self, question: QuestionId, reason: str, remark: str = "") -> None:
        """Set a miss aside for good."""
        aside = Aside(at=self.now, question=question, reason=reason, remark=remark)
        aside_id = attempt_log.digest("aside", question, self.now.isoformat(), self.device)
        attempt_store.append_record(
            self.root, self.device, attempt_log.format_aside(aside, aside_id)
        )
        self.reload()

    def link(self, note: Note, question: QuestionId) -> None:
        """Let a note answer a missed question."""
        store.link_question(self.root, note, question)
        self.reload()

    def add_note(self, draft: Note, body: str) -> Note:
        """Write a new note into its area's folder, and return it as it is in the base.

        Raises:
            NotFoundError: Its area is not in the blueprint.
            KBError: It has no text, or the disk refused.
        """
        if not body.strip():
            raise KBError("an empty note was not written", hint="give it a line of your own")
        areas = tuple(self.exam.area(area).id for area in draft.areas)
        folder = areas[0] if areas else "notes"
        present = {path.casefold() for path in self.whole.files}
        stem, number = slug(draft.title), 1
        path = f"{folder}/{stem}.md"
        while path.casefold() in present:
            number += 1
            path = f"{folder}/{stem}-{number}.md"
        note = replace(draft, areas=areas, path=path, written_at=self.now, dated=True)
        store.create_note(self.root, path, format_note(note, body))
        self.reload()
        return next(found for found in self.whole.notes if found.path == path)

    def rewrite(self, note: Note, body: str | None, expected: str | None = None) -> None:
        """Replace a note's text (or keep it, when None) and stamp it as written now.

        Raises:
            ConflictError: The file is no longer what `expected` says.
        """
        stamp = self.now.isoformat(timespec="minutes")

        def edit(text: str) -> str:
            if body is not None:
                head = text[: len(text) - len(split(text, note.path)[0].body)]
                newline = "\r\n" if "\r\n" in text else "\n"
                text = head + body.strip("\r\n").replace("\r\n", "\n").replace("\n", newline)
                text += newline
            return set_value(text, note.path, "written", stamp)

        store.edit_note(self.root, note.path, edit, expected)
        self.reload()

    def merge(self, keep: Note, other: Note, keep_digest: str, other_digest: str) -> str:
        """Make two notes one; returns where the text of the second was set aside.

        The note that stays is stamped with the later of the two moments of writing, so that it
        is judged by what happened after both were written.

        Raises:
            QueryError: They are one note.
            ConflictError: A file is no longer what its digest says; nothing was written.
        """
        from kb.storage.note_merge import Expected, merge_notes

        if keep.path == other.path:
            raise QueryError("a note cannot be merged with itself", hint="name two notes")
        linking = [
            note.path
            for note in self.whole.notes
            if note.path not in (keep.path, other.path)
            and any(link.path == other.path for link in note.links)
        ]
        aside = merge_notes(
            self.root,
            Expected(path=keep.path, digest=keep_digest),
            Expected(path=other.path, digest=other_digest),
            linking,
            later_written(keep, other, self.now),
        )
        self.reload()
        return aside

    def read(self, note: Note, seconds: float | None) -> Reading:
        """Record that a note was read."""
        reading = attempt_store.new_reading(self.now, note.id, seconds)
        attempt_store.append_reading(self.root, self.device, reading)
        self.reload()
        return reading

    def rebuild(self) -> None:
        """Throw away what is derived and make it anew."""
        self.catalogue.discard()
        self.reload()
        _ = self.base, self.index


def _place_of(entry: Attempt) -> tuple[str, str, str]:
    return entry.day.isoformat(), entry.source, entry.round


def later_written(keep: Note, other: Note, now: datetime) -> str:
    """The later moment at which one of two notes was written, as front matter has it."""
    days = [note.written_on for note in (keep, other) if note.written_on]
    moments = [note.written_at for note in (keep, other) if note.written_at]
    if not days:
        return now.isoformat(timespec="minutes")
    latest = max((moment.astimezone(now.tzinfo) for moment in moments), default=None)
    if latest is not None and latest.date() >= max(days):
        return latest.isoformat(timespec="minutes")
    return max(days).isoformat()


def blank_note(
    title: str, area: str, concepts: tuple[str, ...], questions: tuple[QuestionId, ...], basis: str
) -> Note:
    """A draft for `add_note`."""
    from kb.core.model import Note

    return Note(
        id=NoteId(slug(title)),
        path="",
        title=title.strip(),
        areas=(AreaId(area),) if area else (),
        concepts=concepts,
        questions=questions,
        basis=basis,
    )
