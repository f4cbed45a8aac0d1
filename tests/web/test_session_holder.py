"""One open base for all requests: fresh after every change, and never a page that hangs."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

from kb.core.errors import ConflictError, Place
from kb.storage import base_folder as store

if TYPE_CHECKING:
    from collections.abc import Callable

    import pytest
    from web_client import Browser

NOTE = "---\ntitle: {}\narea: cardiology\n---\nShort.\n"


def test_a_file_changed_elsewhere_shows_at_once(browser: Callable[..., Browser]) -> None:
    """An editor or a synchroniser changes a note; the next page has it."""
    own = browser({"cardiology/one.md": NOTE.format("Before")})
    assert own.get("/note/cardiology/one.md").elements.texts("h1") == ["Before"]
    (own.root / "cardiology" / "one.md").write_text(NOTE.format("After it"), encoding="utf-8")
    assert own.get("/note/cardiology/one.md").elements.texts("h1") == ["After it"]


def test_an_unchanged_base_is_read_once(
    browser: Callable[..., Browser], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second page costs no second reading of the whole base."""
    own = browser({"cardiology/one.md": NOTE.format("One")})
    own.get("/read")
    monkeypatch.setattr(store, "load", _fail)
    assert own.get("/read").status == 200


def _fail(*_: object) -> None:
    raise AssertionError("read again")


def test_a_long_first_look_says_so_and_asks_again(
    browser: Callable[..., Browser], monkeypatch: pytest.MonkeyPatch
) -> None:
    """While notes are read the page tells how far it is; then it comes by itself."""
    own = browser({"cardiology/one.md": NOTE.format("One")})
    desk = own.app.extensions["missbook"]
    desk.patience_seconds = 0.0
    begun, go_on, load = threading.Event(), threading.Event(), store.load

    def slowly(*given: object) -> object:
        desk._watch("Reading notes", 1200, 6000)
        begun.set()
        go_on.wait(30)
        return load(*given)

    monkeypatch.setattr(store, "load", slowly)
    first = own.get("/read")
    assert begun.wait(30)
    again = own.get("/read")
    suggested = own.get("/find/suggest?words=one", {"Accept": "application/json"})
    go_on.set()
    desk.loading.result(30)
    assert (first.status, first.headers["Refresh"]) == (503, "0")
    assert again.elements.texts("h1") == ["One moment"]
    assert "Reading notes: 1,200 of 6,000" in again.words
    assert suggested.json["error"] == "the base is being read"
    assert own.get("/read").status == 200


def test_what_went_wrong_while_reading_is_said(browser: Callable[..., Browser]) -> None:
    """A settings file that cannot be understood is named with its line, and no more."""
    own = browser({"exam.yaml": "exam: [\n"})
    answer = own.get("/")
    assert answer.status == 500
    assert "exam.yaml:" in answer.words.casefold()
    assert str(own.root) not in answer.html


def test_a_base_mended_while_running_works_again(browser: Callable[..., Browser]) -> None:
    """Nothing of a failure is kept."""
    own = browser({"exam.yaml": "exam: [\n"})
    assert own.get("/read").status == 500
    good = "exam: A\ndate: 2027-05-11\nblueprint:\n  - {area: cardiology, items: 10}\n"
    (own.root / "exam.yaml").write_text(good, encoding="utf-8")
    assert own.get("/read").status == 200


def test_what_files_leave_out_stands_on_every_page(browser: Callable[..., Browser]) -> None:
    """A damaged note is named at the top, with the way to the whole list."""
    own = browser({"cardiology/one.md": "---\ntitle: [\n---\nText.\n"})
    answer = own.get("/read")
    assert "cardiology/one.md:" in answer.words
    assert "/report/check" in {link["href"] for link in answer.elements.all("a")}


def test_a_conflict_is_a_page_of_its_own(
    browser: Callable[..., Browser], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file changed underneath is status 409, with what to do."""

    def fail(*_: object, **__: object) -> str:
        raise ConflictError("the file changed", place=Place("a/b.md"), hint="look at it again")

    own = browser()
    monkeypatch.setattr("kb.web.screens.find.show_report", fail)
    answer = own.get("/find")
    assert (answer.status, answer.elements.texts("h1")) == (409, ["Changed meanwhile"])
    assert "a/b.md: the file changed" in answer.words
    assert "Look at it again" in answer.words


def test_a_page_that_fails_gives_the_base_back(
    browser: Callable[..., Browser], monkeypatch: pytest.MonkeyPatch
) -> None:
    """After an error the next page is made as if nothing had been."""
    own = browser()
    own.app.extensions["missbook"].patience_seconds = 5.0
    with monkeypatch.context() as patched:
        patched.setattr("kb.web.screens.read.show", _fail)
        assert own.get("/read").status == 500
    assert own.get("/read").status == 200
