"""The reports there are, found by name and imported on use."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from kb.core import plugins
from kb.core.errors import NotFoundError, nearest

if TYPE_CHECKING:
    from kb.presentation.report_module import CardReport, ReportModule, SearchReport

REPORTS = "kb.reports"
PROMISED = ("OPTIONS", "build")
READING_TODAY = ("reread", "today")
"""Reports that list what to read today: `reading_choices` goes before them."""


def report_names() -> tuple[str, ...]:
    """Every report there is, by file name."""
    return plugins.module_names(REPORTS)


def report_module(name: str) -> ReportModule:
    """The module of one report.

    Raises:
        NotFoundError: There is none of that name; the hint offers the nearest.
    """
    if name not in report_names():
        raise NotFoundError(f"no report called '{name}'", hint=nearest(name, report_names()))
    return cast("ReportModule", plugins.load(REPORTS, name, PROMISED))


def as_search(module: ReportModule) -> SearchReport | None:
    """The report as one that may begin with a search, or None if it never does."""
    return cast("SearchReport", module) if plugins.has(module, "SEARCHES") else None


def as_cards(module: ReportModule) -> CardReport | None:
    """The report as one that is shown from cards, or None if it is not."""
    return cast("CardReport", module) if plugins.has(module, "Card") else None


def needs_index(module: ReportModule) -> bool:
    """Whether a report must be given the full-text index."""
    return plugins.has(module, "NEEDS_INDEX")
