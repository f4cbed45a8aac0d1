"""One table of labels serves page, command line and carried file."""

from __future__ import annotations

from typing import TYPE_CHECKING

from kb.core.ids import OUTCOMES, REASONS, ROUNDS
from kb.core.labels import FIELDS, LABELS, label
from kb.export.html_bundle import _part
from kb.presentation.render import format_value

if TYPE_CHECKING:
    from collections.abc import Callable

    from web_client import Browser


def test_every_word_of_the_log_has_a_label() -> None:
    """None is shown as it is stored."""
    answers = [word for word in OUTCOMES if word not in ("void", "aside")]
    assert [word for word in (*answers, *REASONS, *ROUNDS) if word not in LABELS] == []
    assert [name for name in LABELS.values() if not name[0].isupper()] == []


def test_the_command_line_shows_the_labels() -> None:
    """A table of reasons has them in words."""
    assert [format_value(word, "word") for word in REASONS] == [label(word) for word in REASONS]


def test_the_page_shows_the_labels(browser: Callable[..., Browser]) -> None:
    """Buttons, choices and fields of the form in which an answer is logged."""
    page = browser().get("/log").html
    words = (*REASONS, *ROUNDS, "right", "wrong", "blank")
    assert [word for word in words if f">{label(word)}<" not in page] == []
    assert [word for word in words if f">{word}<" in page] == []
    fields = ("item", "chosen", "key", "round", "certainty")
    assert [name for name in fields if f">{FIELDS[name]}<" not in page] == []


def test_the_carried_file_takes_its_words_from_the_table() -> None:
    """Its template writes no word of the log itself."""
    template = _part("page.html")
    written = [name for name in LABELS.values() if f">{name}<" in template]
    assert written == []
    assert template.count("| label") >= 5
