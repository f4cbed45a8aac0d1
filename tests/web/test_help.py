"""The reference on the page."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from kb.presentation.help_topics import help_topics

if TYPE_CHECKING:
    from collections.abc import Callable

    from web_client import Browser


def test_help_is_one_touch_from_every_page(browser: Callable[..., Browser]) -> None:
    """The foot of a page leads to it."""
    assert "/help" in [a.get("href") for a in browser().get("/").elements.all("a")]


def test_every_topic_is_listed(browser: Callable[..., Browser]) -> None:
    """And each leads to its own page."""
    targets = [a.get("href") for a in browser().get("/help").elements.all("a")]
    assert {f"/help/{name}" for name in help_topics()} <= set(targets)


@pytest.mark.parametrize("topic", help_topics())
def test_a_topic_is_shown_with_its_tables(browser: Callable[..., Browser], topic: str) -> None:
    """Headed by its title."""
    page = browser().get(f"/help/{topic}").elements
    assert page.texts("h1") == [help_topics()[topic]]


def test_an_unknown_topic_is_not_found(browser: Callable[..., Browser]) -> None:
    """With the nearest as a hint."""
    answer = browser().get("/help/saftey")
    assert answer.status == 404
