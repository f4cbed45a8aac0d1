"""A walk through every screen, on a phone and on a laptop, with eyes, thumbs and keys."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from screens import MAIN, NOTE, reports

if TYPE_CHECKING:
    from visitor import Visitor

pytestmark = pytest.mark.browser

EVERY = (*MAIN, *reports())
CAUTION = "your own judgement as a licensed doctor"


QUESTIONS = (
    "shape",
    "sideways",
    "too small to touch",
    "errors",
    "foreign requests",
    "barriers",
    "barriers in the dark",
)


def shape(visitor: Visitor) -> list[str]:
    """What every screen must have, once each: a heading, a main part, a caution, a title."""
    wrong = []
    if len(visitor.all("h1")) != 1:
        wrong.append(f"{len(visitor.all('h1'))} first headings")
    if len(visitor.all("main")) != 1:
        wrong.append("not one main part")
    if CAUTION not in visitor.one("footer").text:
        wrong.append("no caution")
    if not visitor.driver.title.strip():
        wrong.append("no title")
    return wrong


def look(visitor: Visitor, path: str) -> dict[str, list[str]]:
    """Open a screen once and ask everything of it."""
    visitor.narrow()
    visitor.open(path)
    narrow = visitor.sideways(), visitor.small_targets()
    found = {
        "shape": shape(visitor),
        "errors": visitor.console_errors(),
        "foreign requests": visitor.foreign_requests(),
        "barriers": visitor.accessibility(),
    }
    visitor.scheme("dark")
    found["barriers in the dark"] = visitor.accessibility("color-contrast")
    visitor.tablet()
    found["too small to touch"] = [*narrow[1], *visitor.small_targets()]
    found["sideways"] = [*narrow[0], *visitor.sideways()]
    visitor.zoomed()
    found["sideways"] += visitor.sideways()
    visitor.laptop()
    found["sideways"] += visitor.sideways()
    visitor.phone()
    visitor.run("document.documentElement.style.fontSize = '200%'")
    found["sideways"] += visitor.sideways()
    return found


@pytest.fixture(scope="module")
def seen() -> dict[str, dict[str, list[str]]]:
    """What was found on screens looked at so far."""
    return {}


@pytest.mark.parametrize("question", QUESTIONS)
@pytest.mark.parametrize("path", EVERY)
def test_every_screen_is_sound(
    request: pytest.FixtureRequest,
    seen: dict[str, dict[str, list[str]]],
    path: str,
    question: str,
) -> None:
    """No screen is wider than 320 px, too small to touch, noisy, or closed to anybody."""
    if path not in seen:  # a screen is opened once for all questions asked of it
        seen[path] = look(request.getfixturevalue("visitor"), path)
    assert seen[path][question] == []


@pytest.mark.parametrize("path", MAIN)
def test_keys_reach_everything(visitor: Visitor, path: str) -> None:
    """Tab goes to all that can be used, first to the skip link, and one sees where one is."""
    visitor.open(path)
    stops = visitor.tab_through()
    assert stops["missed"] == []
    assert stops["unseen"] == []
    assert stops["order"][0].startswith("a 'Skip to")


@pytest.mark.parametrize("phone", [True, False], ids=["phone", "laptop"])
def test_links_lead_through_all_screens(visitor: Visitor, phone: bool) -> None:
    """From the first screen each word of the navigation leads to a screen that says where it is."""
    if phone:
        visitor.phone()
    visitor.open("/")
    words = [link.text for link in visitor.all("nav a")]
    assert words == ["Today", "Log", "Find", "Read", "Progress"]
    for word in words:
        link = next(link for link in visitor.all("nav a") if link.text == word)
        visitor.leave(link.click)
        assert visitor.one("nav [aria-current=page]").text == word
        assert visitor.sideways() == []
        assert visitor.console_errors() == []


def test_the_skip_link_skips(visitor: Visitor) -> None:
    """Tab and Enter lead past the navigation to the content."""
    visitor.open("/")
    visitor.press("\ue004", "\ue007")
    assert visitor.run("return document.activeElement.tagName") == "MAIN"


def test_an_unknown_address_is_told_calmly(visitor: Visitor) -> None:
    """A page that is not there is a screen like the others."""
    visitor.phone()
    visitor.open("/note/nowhere")
    assert shape(visitor) == []
    assert visitor.accessibility() == []


def test_a_note_can_be_read_on_paper(visitor: Visitor) -> None:
    """Printed, a note has its text and the caution, and no navigation."""
    visitor.open(NOTE)
    visitor._cdp("Emulation.setEmulatedMedia", media="print")
    assert not visitor.one("nav").is_displayed()
    assert visitor.one("article").is_displayed()
    assert visitor.one("footer").is_displayed()
    visitor.open("/progress")
    assert not visitor.one(".links").is_displayed()
    visitor._cdp("Emulation.setEmulatedMedia", media="")
