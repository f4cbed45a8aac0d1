"""study.yaml: sources of questions, rota, reading speed and other settings of the person."""

import re
from collections.abc import Mapping
from pathlib import Path
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from kb.core.errors import Problem
from kb.core.ids import SOURCE_KINDS, AreaId, whole_number
from kb.core.settings import ItemRange, Share, Source, Study, TableColumns
from kb.formats.plan_settings import parse_plan
from kb.formats.rota import parse_rota
from kb.formats.study_edits import set_entries
from kb.formats.yaml_edits import check_readable
from kb.formats.yaml_fields import Fields, compose, plain_in_list

KNOWN = (
    *("timezone", "sources", "reading", "held_back", "sheets", "day_first"),
    *("rota", "tables", "plan"),
)
KNOWN_READING = ("words_per_minute", "opening_seconds", "chance_order")
KNOWN_SOURCE = ("source", "name", "kind", "items", "areas", "shares")
TABLE_FIELDS = (
    *("question", "item", "source", "date", "time", "outcome", "chosen", "key", "first"),
    *("certainty", "seconds", "reason", "round", "sitting", "area", "concept", "remark"),
)
"""What a column of a table of answers may hold."""
SPAN = re.compile(r"(\d+)(?:\s*[-\u2013]\s*(\d+))?")


def parse_study(text: str, path: str) -> tuple[Study, tuple[Problem, ...]]:
    """Read study.yaml. What cannot be understood falls back to its default, with a Problem."""
    problems: list[Problem] = []
    fields = compose(text, path, 1, problems)
    if fields is None:
        return Study(), tuple(problems)
    fields.warn_unknown(KNOWN)
    reading, rota = fields.part("reading"), fields.mapping("rota")
    reading.warn_unknown(KNOWN_READING)
    study = Study(
        timezone=_timezone(fields),
        sources=_sources(fields),
        words_per_minute=reading.number("words_per_minute", 110.0, low=20, high=2000),
        opening_seconds=reading.number("opening_seconds", 10.0, high=600),
        chance_order=reading.flag("chance_order", False),
        held_back_count=fields.integer("held_back", 500),
        sheet_folder=fields.text("sheets"),
        day_first=fields.flag("day_first", True),
        tables=_tables(fields),
        rota=parse_rota(rota) if rota else None,
        plan=parse_plan(fields.part("plan")),
        place=fields.place(),
    )
    return study, tuple(problems)


def _timezone(fields: Fields) -> str:
    zone = fields.text("timezone", "UTC")
    try:
        ZoneInfo(zone)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        hint = "write it as a place, such as Europe/London"
        fields.report("timezone", "bad-timezone", f"the time zone '{zone}' is not known", hint)
        return "UTC"
    return zone


def _sources(fields: Fields) -> tuple[Source, ...]:
    sources: dict[str, Source] = {}
    for row in fields.mappings("sources"):
        row.warn_unknown(KNOWN_SOURCE)
        name = row.text("source").casefold()
        if not name or not all(c.isalnum() or c in "-_." for c in name):
            hint = "use letters, digits and hyphens, such as north or paper-3"
            row.report("", "bad-source", f"'{name}' is not a name for a source", hint)
            continue
        if name in sources:
            row.report("", "duplicate-source", f"the source '{name}' appears twice")
            continue
        chosen = row.choice("kind", SOURCE_KINDS, "bank")
        sources[name] = Source(
            id=name,
            name=row.text("name", name),
            kind=next(word for word in SOURCE_KINDS if word == chosen),
            item_count=row.integer("items", 0),
            ranges=_ranges(row),
            shares=_shares(row),
            place=row.place("source"),
        )
    return tuple(sources.values())


def _tables(fields: Fields) -> tuple[TableColumns, ...]:
    found: list[TableColumns] = []
    for source, tables in fields.entries("tables"):
        row = tables.mapping(source)
        if row is not None:
            row.warn_unknown(TABLE_FIELDS)
            columns = tuple((name, row.text(name)) for name in row if name in TABLE_FIELDS)
            found.append(TableColumns(source=source.casefold(), columns=columns))
    return tuple(found)


def with_columns(text: str, path: str, source: str, columns: tuple[tuple[str, str], ...]) -> str:
    """The text of study.yaml with a source's columns remembered in it; all else untouched.

    Raises:
        FormatError: It is not YAML and must not be edited.
    """
    check_readable(text, path)
    entries = tuple((field, plain_in_list(name)) for field, name in columns)
    return set_entries(text, ("tables", plain_in_list(source)), entries)


def _ranges(row: Fields) -> tuple[ItemRange, ...]:
    found: list[ItemRange] = []
    for key, spans in row.entries("areas"):
        match = SPAN.fullmatch(key.strip())
        if match is None or int(match[2] or match[1]) < int(match[1]):
            hint = "write the first and last item, such as 1-260: cardiology"
            spans.report(key, "bad-range", f"'{key}' is not a range of items", hint)
            continue
        area = spans.text(key).casefold()
        first, last = int(match[1]), int(match[2] or match[1])
        overlap = next((s for s in found if s.first <= last and first <= s.last), None)
        if overlap is not None:
            message = f"{key} overlaps {overlap.first}-{overlap.last}"
            spans.report(key, "bad-range", message, "each item has one area", "caution")
        found.append(ItemRange(first=first, last=last, area=AreaId(area)))
    return tuple(sorted(found, key=lambda span: span.first))


def _shares(row: Fields) -> tuple[Share, ...]:
    """`shares: {1: north:2001-2050}`: from item 1 on, the items are those of the bank."""
    found: list[Share] = []
    for key, spans in row.entries("shares"):
        text = spans.text(key)
        source, _, items = text.partition(":")
        match = SPAN.fullmatch(items.strip())
        own_first = whole_number(key)
        if own_first is None or not source or match is None:
            hint = "write the first item and the bank's, such as 1: north:2001-2050"
            spans.report(key, "bad-share", f"'{key}: {text}' does not say what is shared", hint)
            continue
        first, last = int(match[1]), int(match[2] or match[1])
        source = source.strip().casefold()
        found.append(Share(own_first=own_first, source=source, first=first, last=last))
    return tuple(found)


def format_study(timezone: str, sources: str = "", rota: str = "") -> str:
    """The text of a new study.yaml, which names every setting with its default. Lines of the
    person's own sources and rota come before the samples of such lines.
    """
    text = Path(__file__).with_name("new_study.yaml").read_text(encoding="utf-8")
    text = text.replace("{timezone}", timezone)
    text = text.replace("#sources:\n", f"{sources}#sources:\n")
    return text.replace("#rota:\n", f"{rota}#rota:\n")


def format_sources(items: Mapping[str, int]) -> str:
    """Lines of study.yaml for sources and their number of items. One called paper or mock and a
    number is of that kind, any other a bank.
    """
    lines = []
    for source, count in items.items():
        kind = re.match(r"(paper|mock)(?![a-z])", source)
        lines += [f"  - source: {source}", f"    kind: {kind[1] if kind else 'bank'}"]
        lines += [f"    items: {count}"]
    return "\n".join(["sources:", *lines, "", ""]) if lines else ""
