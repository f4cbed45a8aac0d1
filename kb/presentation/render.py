"""Report -> text for a terminal, or JSON. Plain characters, at most 80 columns, no colour."""

import json
import textwrap
from collections.abc import Mapping
from datetime import date
from itertools import compress
from typing import Any, cast

from kb.core.errors import Problem
from kb.core.labels import label
from kb.core.wording import NOT_FOR_CARE
from kb.presentation.report_model import (
    Block,
    Column,
    Entries,
    Entry,
    Facts,
    Kind,
    Report,
    Table,
    Text,
    named_right,
)

WIDTH = 80
SCHEMA = 2
DASH = "-"
OF_NOTES = ("brief", "find", "history", "map")
"""Reports of what notes say: each repeats that it is not for care."""


def render_text(
    report: Report, *, width: int = WIDTH, explain: bool = False, cite: bool = False
) -> str:
    """The report as plain text, ending in one line break. `explain` adds the terms, `cite` the
    published works.
    """
    parts = [_title(report.title, report.right, width)]
    parts.extend(_block(block, width, report.areas) for block in report.blocks)
    if explain:
        terms = (_wrap(f"{term}: {meaning}", width, hang="  ") for term, meaning in report.terms)
        parts.append("\n".join(terms))
    if report.name in OF_NOTES:
        parts.append(NOT_FOR_CARE)
    if cite:
        from kb.core.citations import WORKS

        works = (_wrap(str(WORKS[key]), width, hang="  ") for key in report.cites)
        parts.append("\n".join(works) or "No published method is used here.")
    return "\n\n".join(part for part in parts if part) + "\n"


def render_json(report: Report, as_of: date, **more: object) -> str:
    """The report as JSON: `schema`, `report`, `as_of`, `title`, a key a block, and `more`."""
    content: dict[str, Any] = {"schema": SCHEMA, "report": report.name, "as_of": as_of}
    content["title"] = report.title
    texts: list[str] = []
    for block in report.blocks:
        if isinstance(block, Text):
            texts.append(block.text)
        elif isinstance(block, Facts):
            content[block.key] = {key: value for key, _, value, _ in block.facts}
        elif isinstance(block, Table):
            keys = [column.key for column in block.columns]
            content[block.key] = [dict(zip(keys, row, strict=True)) for row in block.rows]
        else:
            rows = [_entry_json(entry) for entry in block.entries]
            content[block.key] = [*content.get(block.key, []), *rows]
    content["texts"] = texts
    if report.findings:
        content["findings"] = [_problem_json(problem) for problem in report.findings]
    return to_json({**content, **more})


def to_json(content: object) -> str:
    """JSON as every command writes it: UTF-8, two spaces, one line break at the end."""
    text = json.dumps(content, ensure_ascii=False, indent=2, default=lambda day: day.isoformat())
    return f"{text}\n"


def _entry_json(entry: Entry) -> dict[str, object]:
    content: dict[str, object] = {"head": entry.head, "lines": list(entry.lines)}
    content.update(entry.fields)
    if entry.passage:
        content["passage"] = [{"text": text, "marked": marked} for text, marked in entry.passage]
    return content


def _problem_json(problem: Problem) -> dict[str, object]:
    names = ("code", "message", "hint", "severity")
    own = {name: getattr(problem, name) for name in names}
    return {"path": problem.place.path, "line": problem.place.line, **own}


def _title(title: str, right: str, width: int) -> str:
    room = width - len(title) - len(right)
    if right and room >= 2:
        return f"{title}{' ' * room}{right}"
    return "\n".join(part for part in (_wrap(title, width), right) if part)


def _block(block: Block, width: int, areas: Mapping[str, str]) -> str:
    if isinstance(block, Text):
        return _wrap(block.text, width)
    if isinstance(block, Facts):
        return "" if block.quiet else _facts(block, width)
    if isinstance(block, Table):
        return _table(block, width, areas)
    return _entries(block, width, areas)


def _facts(block: Facts, width: int) -> str:
    label_width = max((len(label) for _, label, _, _ in block.facts), default=0)
    lines = [_wrap(block.title, width)] if block.title else []
    hang = " " * (label_width + 2)
    for _, name, value, kind in block.facts:
        shown = f"{name.ljust(label_width)}  {format_value(value, kind)}"
        lines.append(_wrap(shown, width, hang=hang))
    return "\n".join(lines)


def _table(block: Table, width: int, areas: Mapping[str, str]) -> str:
    if not block.rows:
        return _wrap(block.empty, width)
    from io import StringIO

    from rich.console import Console
    from rich.table import Table as Grid
    from rich.text import Text as Cell

    block = block.shown()
    title = f"{_wrap(block.title, width)}\n" if block.title else ""
    grid = Grid(box=None, pad_edge=False, padding=(0, 2, 0, 0), show_edge=False)
    for column in block.columns:
        grid.add_column(
            Cell(column.label),
            justify="right" if column.is_number else "left",
            no_wrap=column.is_number,
            overflow="fold",
        )
    named = [column.kind == "area" for column in block.columns]
    for row in cell_texts(block):
        cells = (
            areas.get(text, text) if own else text for text, own in zip(row, named, strict=True)
        )
        grid.add_row(*(Cell(text) for text in cells))
    out = StringIO()
    console = Console(
        file=out, width=width, color_system=None, force_terminal=False, highlight=False
    )
    console.print(grid)
    return title + "\n".join(line.rstrip() for line in out.getvalue().rstrip().split("\n"))


def cell_texts(table: Table) -> tuple[tuple[str, ...], ...]:
    """Every cell of a table as text, row by row; a column has the same number of decimals
    throughout.
    """
    if not table.rows:
        return ()
    columns = zip(table.columns, zip(*table.rows, strict=True), strict=True)
    written = [_column(column, values) for column, values in columns]
    return tuple(zip(*written, strict=True))


def _column(column: Column, values: tuple[object, ...]) -> list[str]:
    texts = [format_value(value, column.kind) for value in values]
    if column.kind != "number":
        return texts
    pairs = [*zip(values, texts, strict=True)]
    decimal = [_is_number(value) and "e" not in text for value, text in pairs]
    places = (len(text.partition(".")[2]) for text in compress(texts, decimal))
    common = max(places, default=0)
    return [
        f"{value:.{common}f}" if own else text
        for (value, text), own in zip(pairs, decimal, strict=True)
    ]


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _entries(block: Entries, width: int, areas: Mapping[str, str]) -> str:
    lines = [_wrap(block.title, width)] if block.title else []
    if not block.entries:
        return "\n".join([*lines, _wrap(block.empty, width)])
    last = block.first + len(block.entries) - 1
    margin = len(str(last)) + 2 if block.numbered else 0
    for number, entry in enumerate(block.entries, start=block.first):
        lead = str(number).ljust(margin) if block.numbered else ""
        right = "  ".join(named_right(entry, areas))
        lines.extend(_entry(entry, right, lead, " " * margin, width))
    return "\n".join(lines)


def _entry(entry: Entry, right: str, lead: str, indent: str, width: int) -> list[str]:
    room = width - len(lead) - len(right) - 2
    fits = len(entry.head) <= room
    first, *rest = [entry.head] if fits else textwrap.wrap(entry.head, max(20, room))
    gap = " " * max(2, width - len(lead) - len(first) - len(right)) if right else ""
    lines = [f"{lead}{first}{gap}{right}", *(indent + line for line in rest)]
    lines.extend(_wrap(line, width, indent=indent) for line in entry.lines)
    if entry.passage:
        passage = "".join(f"*{text}*" if marked else text for text, marked in entry.passage)
        lines.append(_wrap(" ".join(passage.split()), width, indent=indent))
    return lines


def _wrap(text: str, width: int, *, indent: str = "", hang: str = "") -> str:
    hang, room = indent + hang, max(20, width)
    return textwrap.fill(
        text, room, initial_indent=indent, subsequent_indent=hang, break_on_hyphens=False
    )


def format_value(value: object, kind: Kind) -> str:
    """One raw value as text; None is a dash."""
    if value is None:
        return DASH
    if kind == "word":
        return label(value)
    if isinstance(value, tuple):
        return ", ".join(str(item) for item in value)
    if isinstance(value, date):
        if kind == "day":
            return f"{value:%a} {value.day:>2} {value:%b}"
        return f"{value.day} {value:%b %Y}"
    if _is_number(value):
        return _number(float(cast("float", value)), kind)
    return str(value)


def _number(value: float, kind: Kind) -> str:
    if kind == "fraction":
        text = f"{100 * value:.0f}%"
        return "over 99%" if text == "100%" and value < 1 else text
    if kind == "marks":
        return f"{value:.1f}"
    if kind in ("count", "days", "minutes", "seconds"):
        return f"{value:,.0f}"
    return f"{value:.4g}"
