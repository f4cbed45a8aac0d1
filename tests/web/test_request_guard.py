"""The page answers nobody but its own pages, and lets nothing foreign run."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from web_client import ADDRESS, PORT

if TYPE_CHECKING:
    from collections.abc import Callable

    from web_client import Browser

NOTE = "---\ntitle: One idea\narea: cardiology\n---\nShort.\n"


@pytest.mark.parametrize(
    "host", ["evil.example", f"evil.example:{PORT}", "127.0.0.1", "127.0.0.1:1", ""]
)
def test_a_foreign_host_is_refused(browser: Callable[..., Browser], host: str) -> None:
    """A page that calls this machine by a name of its own learns nothing."""
    answer = browser({"cardiology/one.md": NOTE}).get("/", {"Host": host})
    assert (answer.status, "One idea" in answer.html) == (400, False)


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://evil.example"},
        {"Origin": "null"},
        {"Origin": ADDRESS.replace("http", "https")},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_form_of_another_site_is_refused(
    browser: Callable[..., Browser], headers: dict[str, str]
) -> None:
    """Even with the right token nothing is taken from another site."""
    assert browser().post("/", headers=headers).status == 403


@pytest.mark.parametrize(("mode", "status"), [("no-cors", 403), ("cors", 403), ("navigate", 200)])
def test_another_site_may_link_but_not_fetch(
    browser: Callable[..., Browser], mode: str, status: int
) -> None:
    """A foreign page cannot probe what is here; a link that a person follows works."""
    headers = {"Sec-Fetch-Site": "cross-site", "Sec-Fetch-Mode": mode}
    assert browser().get("/read", headers).status == status


@pytest.mark.parametrize("token", ["", "guess", "\N{SNOWMAN}"])
def test_a_form_without_its_token_is_refused(browser: Callable[..., Browser], token: str) -> None:
    """A forged or missing token takes nothing in."""
    assert browser().post("/", token=token).status == 403


def test_a_form_with_token_and_origin_passes_the_guard(browser: Callable[..., Browser]) -> None:
    """What the page itself sends is refused by nobody: here the screen takes no form."""
    assert browser().post("/").status == 405


def test_every_answer_carries_the_policy(browser: Callable[..., Browser]) -> None:
    """Pages and errors alike forbid inline code, frames and any other machine."""
    own = browser()
    for address in ("/", "/nowhere", "/static/page.css"):
        headers = own.get(address).headers
        policy = headers["Content-Security-Policy"]
        assert policy.startswith("default-src 'none'; style-src 'self'; script-src 'self';")
        assert "frame-ancestors 'none'" in policy
        assert headers["X-Content-Type-Options"] == "nosniff"
        assert headers["Referrer-Policy"] == "same-origin"


def test_a_body_of_ten_megabytes_is_refused(browser: Callable[..., Browser]) -> None:
    """Too large a form is refused in a sentence."""
    answer = browser().post("/find", {"words": "x" * 10_000_000})
    assert (answer.status, "2 MB at most" in answer.words) == (413, True)


def test_the_session_cookie_is_out_of_reach(browser: Callable[..., Browser]) -> None:
    """No script reads it and no other site sends it."""
    cookie = browser().get("/token").headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie


def test_a_failure_shows_nothing_of_the_inside(
    browser: Callable[..., Browser], monkeypatch: pytest.MonkeyPatch
) -> None:
    """An error of ours is a calm sentence, without names of files or functions."""

    def fail(*_: object, **__: object) -> str:
        raise RuntimeError("secret detail")

    own = browser()
    monkeypatch.setattr("kb.web.screens.find.show_report", fail)
    answer = own.get("/find")
    assert answer.status == 500
    assert "secret detail" not in answer.html
    assert "Traceback" not in answer.html


def test_a_script_gets_errors_as_json(browser: Callable[..., Browser]) -> None:
    """Who asks for JSON is told in JSON what is wrong."""
    answer = browser().get("/report/quue", {"Accept": "application/json"})
    assert (answer.status, answer.json["error"]) == (404, "no report called 'quue'")


def test_two_bases_side_by_side_keep_their_own_cookies(browser: Callable[..., Browser]) -> None:
    """A browser sends a cookie to every port of a machine, so each port names its own."""
    assert browser().get("/token").headers["Set-Cookie"].startswith(f"missbook-{PORT}=")


def test_titles_are_suggested_for_words_not_for_a_text(browser: Callable[..., Browser]) -> None:
    """A text pasted where words are typed is not looked up: that would keep others waiting."""
    own = browser({"cardiology/one.md": NOTE})
    few, many = (own.get(f"/find/suggest?words={'idea+' * count}").json for count in (4, 400))
    assert [note["title"] for note in few["notes"]] == ["One idea"]
    assert many == {"notes": []}
