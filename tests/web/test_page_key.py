"""Without the key nobody on this computer sees the page; with it a browser comes in for good."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from web_client import ADDRESS, KEY, KEY_COOKIE

from kb.services.page_key import opening_file, page_key
from kb.web.login import Door, Passphrase

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from web_client import Browser

NOTE = "---\ntitle: One idea\narea: cardiology\n---\nShort.\n"
PATHS = ("/", "/note/cardiology/one.md", "/find?words=idea", "/token", "/file/x.png", "/leave")


@pytest.fixture
def stranger(browser: Callable[..., Browser]) -> Browser:
    """The browser of another account of this computer."""
    own = browser({"cardiology/one.md": NOTE})
    own.client.delete_cookie(KEY_COOKIE, domain="127.0.0.1")
    return own


@pytest.mark.parametrize("path", PATHS)
def test_without_the_key_nothing_is_shown(stranger: Browser, path: str) -> None:
    """One plain page says how to open it, whatever was asked for."""
    answer = stranger.get(path)
    assert (answer.status, "One idea" in answer.html) == (401, False)
    assert "missbook serve" in answer.words
    assert not answer.elements.all("nav")


def test_without_the_key_nothing_is_written(stranger: Browser) -> None:
    """A form is refused before its token is looked at."""
    before = sorted(stranger.root.rglob("*"))
    fields = {"passphrase": "x", "text": "1041 x", "source": "north"}
    assert stranger.post("/log", fields, token="guess").status in (401, 403)
    asked = {"Accept": "application/json"}
    assert stranger.post("/log/miss", fields, headers=asked, token="guess").json["error"]
    assert sorted(stranger.root.rglob("*")) == before


@pytest.mark.parametrize("key", ["", "k", "k" * 42, "k" * 44, "K" * 43, "\N{SNOWMAN}" * 43])
def test_another_key_opens_nothing(stranger: Browser, key: str) -> None:
    """Neither in the address nor as a cookie."""
    assert stranger.get(f"/?key={key}").status == 401
    stranger.client.set_cookie(KEY_COOKIE, key, domain="127.0.0.1")
    assert stranger.get("/").status == 401


def test_the_first_visit_leaves_the_key_with_the_browser(stranger: Browser) -> None:
    """The address leads on to the page without the key; scripts and other sites cannot have it."""
    answer = stranger.get(f"/find?words=idea&key={KEY}")
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith(f"{KEY_COOKIE}={KEY};")
    assert {"HttpOnly", "SameSite=Strict"} <= set(cookie.split("; "))
    assert answer.headers["Cache-Control"] == "no-store"
    assert "0; url=/find?words=idea" in str(answer.elements.all("meta"))
    assert "One idea" in stranger.get("/find?words=idea").html


@pytest.mark.parametrize("path", ["//evil.example/", "/\\evil.example/", "/%2F/evil.example"])
def test_the_key_leads_to_no_other_site(stranger: Browser, path: str) -> None:
    """Whatever the address looks like."""
    answer = stranger.get(f"{ADDRESS}{path}?key={KEY}")
    metas = [meta for meta in answer.elements.all("meta") if meta.get("http-equiv") == "refresh"]
    for meta in metas:
        target = str(meta["content"]).partition("url=")[2]
        assert target.startswith("/")
        assert target[1:2] not in ("/", "\\")


def test_another_device_cannot_use_the_key(browser: Callable[..., Browser]) -> None:
    """It is for this machine; the network has the passphrase."""
    door = Door(Passphrase.of("seven grey herons"), ("192.168.7.5",))
    phone = browser({"cardiology/one.md": NOTE}, lan=door)
    phone.client.environ_base["REMOTE_ADDR"] = "192.168.7.20"
    assert phone.get(f"/?key={KEY}").status == 303
    phone.client.set_cookie(KEY_COOKIE, KEY, domain="127.0.0.1")
    assert phone.get("/").goes_to.startswith("/login")


def test_this_machine_needs_no_passphrase_beside_the_key(browser: Callable[..., Browser]) -> None:
    """Who started it has shown already that the base is theirs."""
    door = Door(Passphrase.of("seven grey herons"), ("192.168.7.5",))
    own = browser({"cardiology/one.md": NOTE}, lan=door)
    assert own.get(f"/?key={KEY}").status == 200
    assert own.get("/").status == 200


def test_the_key_is_kept_and_private(base: Callable[..., Path], tmp_path: Path) -> None:
    """The same at the next start; another base has another; a damaged one is replaced."""
    root = base()
    key = page_key(root)
    assert page_key(root) == key
    assert len(key) == 43
    other = tmp_path / "other"
    other.mkdir()
    assert page_key(other) != key
    file = opening_file(root, f"http://127.0.0.1:8017/?key={key}")
    assert f"url=http://127.0.0.1:8017/?key={key}" in file.read_text(encoding="utf-8")
    assert root not in file.parents
    (file.parent / "page-key").write_text("short", encoding="ascii")
    assert page_key(root) not in (key, "short")
