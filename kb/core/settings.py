"""The settings of a base as frozen records: exam.yaml, study.yaml, the rota and the plan."""

from dataclasses import dataclass, field, fields
from datetime import date, time
from string import ascii_uppercase
from typing import Any

from kb.core.errors import NotFoundError, Place, nearest
from kb.core.ids import NOWHERE, AreaId, QuestionId, SourceKind, whole_number

SHORT_NAME = 22
"""Letters of a name that fit into the first column of a table."""


def limited(default: float, least: float, most: float) -> Any:  # noqa: ANN401 - as `field` does
    """A number of the settings: its default, and the least and the most it may be."""
    return field(default=default, metadata={"limits": (least, most)})


def limits(settings: type) -> dict[str, tuple[float, float]]:
    """The least and the most that each `limited` number of a record may be, by its name."""
    return {own.name: own.metadata["limits"] for own in fields(settings) if own.metadata}


@dataclass(frozen=True, slots=True, kw_only=True)
class Area:
    """A syllabus area of the blueprint; `item_count` of the exam's items come from it.

    `short` is its name in tables, where the person chose one.
    """

    id: AreaId
    name: str
    item_count: int
    topics: tuple[str, ...] = ()
    short: str = ""
    place: Place = field(default=NOWHERE, compare=False)

    @property
    def short_name(self) -> str:
        """The name in tables: as chosen, else the name, or the id in words if that is long."""
        if self.short or len(self.name) <= SHORT_NAME:
            return self.short or self.name
        return self.id.replace("-", " ").capitalize()


@dataclass(frozen=True, slots=True, kw_only=True)
class Exam:
    """The exam the base prepares for. `areas` are in the blueprint's order."""

    name: str
    date: date
    areas: tuple[Area, ...]
    paper_count: int = 2
    paper_minutes: int = 180
    option_count: int = 5
    pass_fraction: float | None = None
    pass_sd_fraction: float = 0.0
    place: Place = field(default=NOWHERE, compare=False)

    @property
    def item_count(self) -> int:
        """Items of the whole exam: the sum over the blueprint."""
        return sum(area.item_count for area in self.areas)

    @property
    def seconds_per_item(self) -> float:
        """The exam's own pace; 108 s for 200 items in two papers of 180 minutes."""
        return self.paper_count * self.paper_minutes * 60 / max(1, self.item_count)

    @property
    def letters(self) -> tuple[str, ...]:
        """The letters of the options of a question."""
        return tuple(ascii_uppercase[: self.option_count])

    def area_name(self, own: str) -> str:
        """The name of the area with that id; the id itself where the blueprint has no such area."""
        return next((area.name for area in self.areas if area.id == own), own)

    @property
    def short_names(self) -> dict[str, str]:
        """The name of each area in tables, by id."""
        return {area.id: area.short_name for area in self.areas}

    def area(self, text: str) -> Area:
        """The area whose id, name or short name is `text`, whatever its case.

        Raises:
            NotFoundError: No such area; the hint offers the nearest.
        """
        wanted = text.strip().casefold()
        for area in self.areas:
            names = (area.id, area.name, area.short_name)
            if wanted in (name.casefold() for name in names):
                return area
        also = {area.name: area.id for area in self.areas}
        hint = nearest(wanted, also.values(), also) or "see exam.yaml for the areas"
        raise NotFoundError(f"no area called '{text}' in the blueprint", hint)


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemRange:
    """Items `first` to `last` of a source, both included, belong to `area`."""

    first: int
    last: int
    area: AreaId


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """Items `first` to `last` of another source are items of this one, from `own_first` on."""

    own_first: int
    source: str
    first: int
    last: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Source:
    """Where questions come from. `item_count` is 0 when it was not declared.

    `shares` says which of its items are items of a bank under another number.
    """

    id: str
    name: str
    kind: SourceKind = "bank"
    item_count: int = 0
    ranges: tuple[ItemRange, ...] = ()
    shares: tuple[Share, ...] = ()
    place: Place = field(default=NOWHERE, compare=False)

    @property
    def is_paper(self) -> bool:
        """Whether it is sat as a whole, as the exam is: a paper or a mock."""
        return self.kind in ("paper", "mock")

    def area_of(self, item: str) -> AreaId | None:
        """The declared area of one item, if the source's numbering gives it."""
        number = whole_number(item)
        if number is None:
            return None
        for span in self.ranges:  # a loop, since reading a log asks for every question
            if span.first <= number <= span.last:
                return span.area
        return None


@dataclass(frozen=True, slots=True, kw_only=True)
class Shift:
    """A kind of working day. `start` and `end` are None for a day without duty.

    An `end` that is not after `start` is on the next day. `paper_day_minutes` go before the plan's.
    """

    name: str
    start: time | None
    end: time | None
    study_minutes: int
    paper_day_minutes: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class RestLimits:
    """Limits of rest and duty; each is a setting.

    Those named `free` keep study away and are 0 unless set: the day after a run of nights or long
    days, or the hours after it if hours are given; days of the week (0 is Monday); a number of days
    of each week. Study never eats into `hours_between` duties. From `duty_hours` on they only lead
    to cautions. Sources of the defaults: eu2003 (11 hours, 48 hours a week, 24 and 11 hours of rest
    in a week), uk2016 (the rest).
    """

    hours_between: float = limited(11.0, 0, 24)
    between_nights_minutes: int = limited(0, 0, 480)
    after_nights_fraction: float = limited(0.5, 0, 1)
    free_after_nights: int = limited(0, 0, 14)
    free_hours_after_nights: float = limited(0.0, 0, 168)
    free_after_long_days: int = limited(0, 0, 14)
    free_hours_after_long_days: float = limited(0.0, 0, 168)
    free_days_a_week: int = limited(0, 0, 6)
    free_weekdays: tuple[int, ...] = ()
    duty_hours: float = limited(13.0, 0, 48)
    nights_in_a_row: int = limited(4, 1, 31)
    long_days_in_a_row: int = limited(5, 1, 31)
    shifts_in_a_row: int = limited(7, 1, 31)
    hours_after_nights: float = limited(46.0, 0, 168)
    hours_after_long_days: float = limited(48.0, 0, 168)
    rest_hours_a_week: float = limited(35.0, 0, 168)
    hours_in_seven_days: float = limited(72.0, 0, 168)
    average_week_hours: float = limited(48.0, 0, 168)


@dataclass(frozen=True, slots=True, kw_only=True)
class Rota:
    """Repeating weeks of shift names from Monday `starts`, and days that differ.

    `weeks` holds seven shift names a week; `exceptions` are (day, shift name), by day.
    `calendar_words` are (words of a calendar's event, shift name). On the bank holidays of a
    country (ISO 3166, such as GB-ENG; empty for none) the repeating weeks have a day off.
    """

    starts: date
    shifts: tuple[Shift, ...]
    weeks: tuple[tuple[str, ...], ...]
    exceptions: tuple[tuple[date, str], ...] = ()
    calendar_words: tuple[tuple[str, str], ...] = ()
    bank_holidays: str = ""
    rest: RestLimits = RestLimits()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSettings:
    """How the person wants to plan. The defaults are rules of thumb (common practice, no source).

    `area_order` are areas to take first, in this order; the others follow by marks at risk.
    `second_fraction` is the share of the banks to take again at random once all is met.
    `paper_day_minutes` may be used on a day off with a paper; `reading_fraction` is the most of a
    day that notes take. `seconds` for a question and `review_seconds` for a wrong answer are
    measured in the log when 0. After `break_after_minutes` of study (0: never) come
    `break_minutes` of break.
    """

    second_fraction: float = limited(1.0, 0, 1)
    paper_day_minutes: int = limited(360, 0, 720)
    reading_fraction: float = limited(0.25, 0, 0.9)
    last_look_days: int = limited(3, 1, 30)
    seconds: float = limited(0.0, 0, 3600)
    review_seconds: float = limited(0.0, 0, 3600)
    paper_start: time | None = None
    break_after_minutes: int = limited(0, 0, 480)
    break_minutes: int = limited(15, 1, 120)
    area_order: tuple[AreaId, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class TableColumns:
    """How the tables of a source name their columns: (what it holds, the column's name)."""

    source: str
    columns: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """Settings of the person who revises.

    `chance_order` lets chance put notes early or late in the reading list (see `reading_choices`).
    `former` are old names of areas and sources, each with that of now.
    """

    timezone: str = "UTC"
    sources: tuple[Source, ...] = ()
    words_per_minute: float = 110.0
    opening_seconds: float = 10.0
    chance_order: bool = False
    held_back_count: int = 500
    sheet_folder: str = ""
    day_first: bool = True
    tables: tuple[TableColumns, ...] = ()
    rota: Rota | None = None
    plan: PlanSettings = PlanSettings()
    former: tuple[tuple[str, str], ...] = ()
    place: Place = field(default=NOWHERE, compare=False)

    def area_of(self, question: QuestionId) -> AreaId:
        """The area that the numbering of the question's source gives; empty if it gives none."""
        source_id, _, item = question.partition(":")
        source = self.source(source_id)
        return (source.area_of(item) if source else None) or AreaId("")

    def source(self, source_id: str) -> Source | None:
        """The declared source with that id, or None."""
        for source in self.sources:  # a loop, see `Source.area_of`
            if source.id == source_id:
                return source
        return None

    def source_name(self, own: str) -> str:
        """The name of the source with that id; the id itself where none is declared or named."""
        source = self.source(own)
        return (source and source.name) or own

    def source_of_any_name(self, source_id: str) -> Source | None:
        """The declared source that has that id, or had it before; or None."""
        return self.source(source_id) or self.source(dict(self.former).get(source_id, ""))
