"""Logging in the browser: touches counted, connections lost, keys alone, no scripts."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from serving import Server
    from visitor import Visitor

pytestmark = pytest.mark.browser

RIGHT = "button[value=right]"
WRONG = "#wrong > summary"
COUNT_TOUCHES = """
window.touches = 0;
window.touched = performance.now();
addEventListener('click', () => { window.touched = performance.now(); }, true);
addEventListener('pointerdown', () => { window.touches += 1; }, true);
"""


def logged(server: Server) -> list[dict[str, str]]:
    """What the page's own log holds, without what was taken back."""
    path = server.root / "log" / "attempts-page.csv"
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    back = {row["voids"] for row in rows}
    return [row for row in rows if row["outcome"] != "void" and row["id"] not in back]


def start(visitor: Visitor, number: str, source: str = "north") -> None:
    """Open the screen on a phone, with nothing left from before, at a number."""
    visitor.phone()
    address = f"/log?source={source}&item={number}&round=first"
    visitor.open(address)
    visitor.until(lambda: visitor.all("#entry"), "the form")
    visitor.run("localStorage.clear()")
    visitor.open(address)


def reason(word: str) -> str:
    """The button of one reason."""
    return f"button[name=reason][value='{word}']"


def next_touch(visitor: Visitor) -> None:
    """Wait as long as a thumb needs; two touches at once are taken for one."""
    waited = "return performance.now() - window.touched > 200"
    visitor.until(lambda: visitor.run(waited), "time for another touch")


def all_saved(visitor: Visitor) -> bool:
    """Whether every row says that it is saved."""
    states = [e.get_attribute("textContent").strip() for e in visitor.all("li[data-entry] .state")]
    return bool(states) and all(state in ("saved", "taken back") for state in states)


def test_ten_questions_take_thirteen_touches(visitor: Visitor, server: Server) -> None:
    """A right answer takes one touch and a wrong one two; the numbers count on by themselves."""
    start(visitor, "101")
    before = len(logged(server))
    visitor.run(COUNT_TOUCHES)
    for number in range(10):
        if number in (2, 5, 9):
            visitor.one(WRONG).click()
            visitor.one(reason("two-left")).click()
        else:
            visitor.one(RIGHT).click()
        next_touch(visitor)
    assert visitor.one("#item").get_attribute("value") == "111"
    assert visitor.run("return window.touches") == 13
    visitor.until(lambda: all_saved(visitor), "ten answers saved")
    new = logged(server)[before:]
    assert [row["question"] for row in new] == [f"north:{number}" for number in range(101, 111)]
    assert [row["question"] for row in new if row["outcome"] == "wrong"] == [
        "north:103",
        "north:106",
        "north:110",
    ]
    assert {row["reason"] for row in new if row["outcome"] == "wrong"} == {"two-left"}
    assert visitor.console_errors() == []
