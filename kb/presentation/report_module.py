"""What the modules in kb/reports must have, written out.

Every report has `OPTIONS` and `build`. The tests hold each module to the protocol of its kind.
"""

from collections.abc import Callable, Mapping
from datetime import date
from typing import Any, Protocol

from kb.core.ids import NoteId
from kb.core.model import Base
from kb.presentation.report_model import Option, Report


class ReportModule(Protocol):
    """Any report. Its docstring is its help.

    `build(base, today, **options) -> Report` takes the options by name. With `NEEDS_INDEX` it is
    also given the full-text `index`.
    """

    __doc__: str | None
    OPTIONS: tuple[Option, ...]
    build: Callable[..., Report]


class SearchReport(ReportModule, Protocol):
    """A report that may search; `build` is also given `search(words)`, its best notes only.

    `SEARCHES` names the option that holds the words.
    """

    SEARCHES: str
    SEARCH_LIMIT: int


class CardReport(ReportModule, Protocol):
    """A report on notes found, shown from one `Card` a note, so that the base need not be read.

    Its `build(cards, *, answer, filters, ...)` takes the cards by path. An option in `FILTERS` that
    is set restricts the search to `paths`; `filters` has their values by name.
    """

    SEARCHES: str
    FILTERS: tuple[str, ...]
    Card: Callable[..., Any]

    def cards(self, base: Base, today: date) -> Mapping[NoteId, Any]:
        """The card of every note, the same on all days of a year with these notes and answers."""
        ...

    def paths(self, base: Base, today: date, **options: Any) -> frozenset[str]:  # noqa: ANN401
        """The notes that the filters leave."""
        ...
