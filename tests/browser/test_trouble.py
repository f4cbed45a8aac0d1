"""Logging when more fails than the connection: disk, storage, clock, passphrase, a second tab."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from serving import KEY, NOON
from test_logging import all_saved, begin, logged, phone, right, settle

from kb.core.errors import KBError
from kb.storage import attempt_store
from kb.web.app import create_app
from kb.web.login import Door, Passphrase

if TYPE_CHECKING:
    from collections.abc import Callable

    from serving import Server
    from visitor import Visitor

pytestmark = pytest.mark.browser
__all__ = ["phone"]

FULL = "cannot be written: no space left on device"
WORDS, NEW_WORDS = "kettle marble ostrich", "copper meadow lantern"
DAY_BEHIND = """
const Real = Date, day = 86400000;
window.Date = class extends Real {
  constructor(...given) { given.length ? super(...given) : super(Real.now() - day); }
  static now() { return Real.now() - day; }
};
"""
NO_STORAGE = "Storage.prototype.setItem = () => { throw new Error('full'); };"
DAMAGED = """
const base = 'missbook-' + document.documentElement.dataset.base + '-';
localStorage.setItem(base + 'a', 'null');
localStorage.setItem(base + 'b', '{"entry": 3}');
localStorage.setItem(base + 'c', '{');
"""


def refuse(*_: object, **__: object) -> None:
    """A disk that takes nothing."""
    raise KBError(FULL)


def try_again(visitor: Visitor) -> None:
    """As when a connection comes back: what waits is sent at once."""
    visitor.run("dispatchEvent(new Event('online'))")


def test_answers_wait_while_the_disk_is_full(
    phone: Visitor, server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What missbook says is wrong is told, and nothing is lost until it is mended."""
    begin(phone, 2301)
    with monkeypatch.context() as full:
        full.setattr(attempt_store.atomic_files, "append_lines", refuse)
        right(phone)
        phone.until(lambda: FULL in phone.one("#waiting").text, "what is wrong")
        assert "1 answer waits" in phone.one("#waiting").text
    try_again(phone)
    phone.until(all_saved(phone, 1), "a saved answer")
    assert logged(server, 2301) == [(2301, "right", "")]


def test_two_tabs_with_the_same_entries_log_them_once(
    phone: Visitor, server: Server, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second tab finds what waits in the first, and both send it."""
    begin(phone, 2311)
    driver = phone.driver
    first = driver.current_window_handle
    with monkeypatch.context() as full:
        full.setattr(attempt_store.atomic_files, "append_lines", refuse)
        right(phone)
        phone.until(lambda: "wait" in phone.one("#waiting").text, "what waits")
        driver.switch_to.new_window("tab")
        phone.open("/log")
        phone.until(lambda: FULL in phone.one("#waiting").text, "the same entry")
    for tab in (driver.current_window_handle, first):
        driver.switch_to.window(tab)
        try_again(phone)
        phone.until(all_saved(phone, 1), "a saved answer")
    driver.switch_to.window(driver.window_handles[-1])
    driver.close()
    driver.switch_to.window(first)
    assert logged(server, 2311) == [(2311, "right", "")]


def test_without_storage_one_is_told_to_keep_the_page(phone: Visitor, server: Server) -> None:
    """What a browser will not keep waits in the page, and the page says so."""
    begin(phone, 2321)
    phone.run(NO_STORAGE)
    with phone.without_connection():
        right(phone)
        phone.until(lambda: "do not close this page" in phone.one("#waiting").text, "what to do")
    try_again(phone)
    phone.until(all_saved(phone, 1), "a saved answer")
    assert logged(server, 2321) == [(2321, "right", "")]


def test_a_clock_that_is_wrong_is_said(phone: Visitor, server: Server) -> None:
    """Answers dated by a clock of yesterday are taken, and one is told at once."""
    begin(phone, 2331)
    phone.run(DAY_BEHIND)
    right(phone)
    said = "The clock of this device is 24 hours behind: answers are dated by it."
    phone.until(lambda: said in phone.one("#waiting").text, "whose clock is wrong")
    assert logged(server, 2331) == [(2331, "right", "")]


def test_a_damaged_queue_does_not_stop_logging(phone: Visitor, server: Server) -> None:
    """What stands in the browser's storage and is no entry is passed over."""
    begin(phone, 2341)
    phone.run(DAMAGED)
    begin(phone, 2341)
    right(phone)
    phone.until(all_saved(phone, 1), "a saved answer")
    assert logged(server, 2341) == [(2341, "right", "")]
    assert phone.console_errors() == []


def sign_in(visitor: Visitor, words: str) -> None:
    """Give the passphrase, where it is asked for."""
    visitor.one("input[name=passphrase]").send_keys(words)
    visitor.leave(visitor.one("main form button").click)


def test_answers_wait_for_a_new_passphrase(
    visit: Callable[[Server], Visitor], demo_server: Callable[..., Server]
) -> None:
    """Started anew with other words, missbook gets what waited once one has signed in again."""
    server = demo_server(lan=Door(Passphrase.of(WORDS)))
    visitor = visit(server)
    visitor.open("/log?source=harbour&item=2351")
    sign_in(visitor, WORDS)
    visitor.run("localStorage.clear()")
    with visitor.without_connection():
        server._app = create_app(
            server.root,
            clock=lambda: NOON,
            device="page",
            port=server.port,
            key=KEY,
            lan=Door(Passphrase.of(NEW_WORDS)),
        )
        right(visitor)
        settle(visitor)
        right(visitor)
        visitor.until(lambda: "2 answers" in visitor.one("#waiting").text, "what waits")
    try_again(visitor)
    visitor.until(lambda: "sign in again" in visitor.one("#waiting").text, "what it waits for")
    own = visitor.driver.current_window_handle
    visitor.one("#waiting a").click()
    visitor.driver.switch_to.window(visitor.driver.window_handles[-1])
    visitor.until(lambda: visitor.all("input[name=passphrase]"), "the door")
    sign_in(visitor, NEW_WORDS)
    visitor.driver.close()
    visitor.driver.switch_to.window(own)
    try_again(visitor)
    visitor.until(all_saved(visitor, 2), "the answers saved")
    assert logged(server, 2351) == [(2351, "right", ""), (2352, "right", "")]
