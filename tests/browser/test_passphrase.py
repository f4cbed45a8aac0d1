"""Strangers on the local network: what they see, and how far guessing leads."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import pytest
from wire import ask, send_form

from kb.web.login import FREE_GUESSES, LONGEST_WAIT_SECONDS, Door, Passphrase

if TYPE_CHECKING:
    from collections.abc import Callable

    from serving import Server
    from wire import Reply

WORDS = "seven slow herons by the weir"


class Ticks:
    """Seconds that pass when the test says so."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        """The present second."""
        return self.now


@pytest.fixture(scope="module")
def ticks() -> Ticks:
    """The seconds of the server."""
    return Ticks()


@pytest.fixture(scope="module")
def locked(demo_server: Callable[..., Server], ticks: Ticks) -> Server:
    """The demo base behind a passphrase."""
    return demo_server(lan=Door(Passphrase.of(WORDS), ticks=ticks))


@pytest.fixture(autouse=True)
def _much_later(ticks: Ticks) -> None:
    """What was guessed in an earlier test is long ago."""
    ticks.now += 10 * LONGEST_WAIT_SECONDS


def form(server: Server) -> tuple[str, str]:
    """Cookie and token of a browser that opened the form."""
    reply = ask(server, "/login")
    token = reply.text.split('name="token" value="')[1].split('"')[0]
    return reply.header("Set-Cookie").split(";")[0], token


def guess(server: Server, words: str, onwards: str = "/") -> Reply:
    """Try a passphrase from a fresh browser."""
    cookie, token = form(server)
    fields = {"token": token, "passphrase": words, "next": onwards}
    return send_form(server, "/login", fields, cookie=cookie)


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/log",
        "/find?words=sodium",
        "/note/nephrology/acid-base-in-four-steps.md",
        "/file/nephrology/x.png",
        "/token",
        "/report/queue",
        "/chart/standing.svg",
        "/nowhere",
        "/login/../",
        "//login",
        "/static/../find",
    ],
)
def test_a_stranger_sees_the_form_and_nothing_else(locked: Server, path: str) -> None:
    """Without the passphrase every address leads to the form or nowhere."""
    reply = ask(locked, path)
    assert reply.status in (303, 308, 401, 404) or 'name="passphrase"' in reply.text
    for inside in ('class="sheet"', "<article", "<table", "36 days"):
        assert inside not in reply.text
    scripted = ask(locked, path, headers={"Accept": "application/json"})
    assert scripted.status in (308, 401, 404) or path == "//login"


def test_a_stranger_sends_nothing_in(locked: Server) -> None:
    """A form sent without the passphrase is refused, even with a token of the right browser."""
    cookie, token = form(locked)
    before = sorted((p.name, p.stat().st_size) for p in (locked.root / "log").iterdir())
    for path in ("/log", "/note/nephrology/acid-base-in-four-steps.md/edit"):
        reply = send_form(locked, path, {"token": token, "outcome": "wrong"}, cookie=cookie)
        assert reply.status == 401
    assert before == sorted((p.name, p.stat().st_size) for p in (locked.root / "log").iterdir())


def test_the_passphrase_opens_the_page_until_one_leaves(locked: Server) -> None:
    """The right words open it; the cookie cannot be read by scripts or sent by other sites."""
    reply = guess(locked, WORDS)
    assert reply.status == 303
    given = reply.header("Set-Cookie")
    assert "HttpOnly" in given
    assert "SameSite=Strict" in given
    cookie = given.split(";")[0]
    inside = ask(locked, "/token", headers={"Cookie": cookie, "Accept": "application/json"})
    assert inside.status == 200
    token = inside.text.split('"token":')[1].split('"')[1]
    cookie = inside.header("Set-Cookie").split(";")[0]
    assert send_form(locked, "/leave", {"token": token}, cookie=cookie).status == 303
    assert ask(locked, "/find", headers={"Cookie": cookie}).status == 303


def test_guessing_is_slowed_down(locked: Server, ticks: Ticks) -> None:
    """After a few wrong guesses even the right words are not looked at for a while."""
    for number in range(FREE_GUESSES):
        assert guess(locked, f"wrong {number}").status == 401
    shut = guess(locked, WORDS)
    assert shut.status == 429
    assert int(shut.header("Retry-After")) >= 10
    ticks.now += int(shut.header("Retry-After"))
    assert guess(locked, "wrong again").status == 401
    longer = guess(locked, WORDS)
    assert int(longer.header("Retry-After")) > int(shut.header("Retry-After"))
    ticks.now += int(longer.header("Retry-After"))
    assert guess(locked, WORDS).status == 303


def test_guessing_side_by_side_gains_nothing(locked: Server) -> None:
    """Many guesses at once are judged one after the other, and soon no more."""
    with ThreadPoolExecutor(12) as guessers:
        found = list(guessers.map(lambda n: guess(locked, f"guess {n}").status, range(24)))
    assert found.count(401) == FREE_GUESSES
    assert found.count(429) == 24 - FREE_GUESSES


def test_a_forged_address_is_no_other_guesser(locked: Server) -> None:
    """What a guesser says of where they come from is not believed."""
    for number in range(FREE_GUESSES):
        guess(locked, f"wrong {number}")
    cookie, token = form(locked)
    forged = {"X-Forwarded-For": "192.0.2.7", "Forwarded": "for=192.0.2.7"}
    fields = {"token": token, "passphrase": WORDS}
    assert send_form(locked, "/login", fields, cookie=cookie, headers=forged).status == 429


@pytest.mark.parametrize(
    "onwards",
    [
        "//kittens.example",
        "https://kittens.example",
        "/\\kittens.example",
        "javascript:alert(1)",
        "/\t/kittens.example",
        "\\\\kittens.example",
        " //kittens.example",
        "/%09/kittens.example/../..//kittens.example",
    ],
)
def test_signing_in_leads_to_a_page_of_ours(locked: Server, onwards: str) -> None:
    """No address put into the form's link sends the person elsewhere after signing in."""
    where = guess(locked, WORDS, onwards).header("Location")
    assert where.startswith("/")
    assert not where.startswith(("//", "/\\", "/\t"))
