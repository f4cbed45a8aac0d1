"""The local network is let in by a passphrase only, and guessing it leads nowhere."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from web_client import ADDRESS, PORT

from kb.core.errors import QueryError
from kb.web.login import (
    FREE_GUESSES,
    FREE_GUESSES_OVERALL,
    LONGEST_WAIT_OVERALL_SECONDS,
    LONGEST_WAIT_SECONDS,
    SIGNED_IN_SECONDS,
    Door,
    Passphrase,
    Waits,
)
from kb.web.request_guard import cookie_name

if TYPE_CHECKING:
    from collections.abc import Callable

    from web_client import Answer, Browser

WORDS = "seven grey herons"
KEPT = Passphrase.of(WORDS)
NOTE = "---\ntitle: One idea\narea: cardiology\n---\nShort.\n"


class Ticks:
    """A clock that goes forward only when told."""

    def __init__(self) -> None:
        self.now = 1000.0

    def __call__(self) -> float:
        """The present moment."""
        return self.now


@pytest.fixture
def ticks() -> Ticks:
    """The clock of the door."""
    return Ticks()


@pytest.fixture
def outside(browser: Callable[..., Browser], ticks: Ticks) -> Browser:
    """A browser that has not signed in."""
    door = Door(KEPT, ("192.168.7.5",), ticks)
    return browser({"cardiology/one.md": NOTE}, lan=door)


def enter(browser: Browser, words: str = WORDS, onwards: str = "/") -> Answer:
    """Fill in the form that asks for the passphrase."""
    fields = {"passphrase": words, "next": onwards}
    return browser.post("/login", fields, token=token_of(browser))


def token_of(browser: Browser) -> str:
    """The token on that form."""
    return str(browser.get("/login").elements.all("input")[0]["value"])


@pytest.mark.parametrize(
    "address", ["/", "/note/cardiology/one.md", "/find/suggest?words=on", "/token", "/file/x.png"]
)
def test_nothing_is_shown_before_signing_in(outside: Browser, address: str) -> None:
    """Every address leads to the passphrase first."""
    answer = outside.get(address)
    assert (answer.status, "One idea" in answer.html) == (303, False)
    assert answer.goes_to.startswith("/login?next=")


def test_a_form_before_signing_in_is_refused(outside: Browser) -> None:
    """Nothing is taken from who did not sign in, and a script is told so."""
    answer = outside.post("/find", token=token_of(outside), headers={"Accept": "application/json"})
    assert (answer.status, "Sign in" in answer.json["error"]) == (401, True)


def test_signing_in_gives_a_new_token(outside: Browser) -> None:
    """A token that somebody saw or planted before is worth nothing afterwards."""
    before = token_of(outside)
    enter(outside)
    assert outside.token() != before


def test_signing_out_clears_what_the_browser_kept(outside: Browser) -> None:
    """Pages of the base are not left in the browser of a borrowed device."""
    enter(outside)
    assert outside.post("/leave").headers["Clear-Site-Data"] == '"cache", "storage"'


def test_the_right_words_open_and_lead_on(outside: Browser) -> None:
    """After signing in the page asked for first is shown."""
    answer = enter(outside, onwards="/note/cardiology/one.md")
    assert (answer.status, answer.goes_to) == (303, "/note/cardiology/one.md")
    assert "Short." in outside.get(answer.goes_to).words


@pytest.mark.parametrize(
    "onwards",
    ["//evil.example/", "http://evil.example/", "/\\evil.example", "/x\r\nSet-Cookie: a=b"],
)
def test_signing_in_leads_to_no_other_site(outside: Browser, onwards: str) -> None:
    """An address that leaves the page is replaced by the first screen."""
    assert enter(outside, onwards=onwards).goes_to == "/"


def test_wrong_words_stay_outside(outside: Browser) -> None:
    """A wrong passphrase is told so and opens nothing."""
    answer = enter(outside, "seven grey heron")
    assert (answer.status, answer.elements.texts("h1")) == (401, ["Sign in"])
    assert outside.get("/").status == 303


def test_guessing_must_wait_longer_each_time(outside: Browser, ticks: Ticks) -> None:
    """After a few guesses even the right words are not looked at until the wait is over."""
    for _ in range(FREE_GUESSES):
        assert enter(outside, "wrong words here").status == 401
    refused = enter(outside)
    assert (refused.status, int(refused.headers["Retry-After"]) > 0) == (429, True)
    assert "Try again in 15 seconds." in refused.words
    assert "/login" in [link["href"] for link in refused.elements.all("a")]
    ticks.now += int(refused.headers["Retry-After"])
    assert enter(outside).status == 303


def test_a_long_wait_is_said_in_minutes(outside: Browser, ticks: Ticks) -> None:
    """Nobody counts nine hundred seconds."""
    for _ in range(FREE_GUESSES + 7):
        enter(outside, "wrong words here")
        ticks.now += LONGEST_WAIT_SECONDS
    enter(outside, "wrong words here")
    assert "Try again in 15 minutes." in enter(outside).words


def test_an_address_waits_a_quarter_hour_at_most(ticks: Ticks) -> None:
    """Waits double and then stay."""
    waits = Waits(ticks)
    for _ in range(40):
        waits.wrong("a")
    assert waits.seconds("a") == LONGEST_WAIT_SECONDS


def test_many_addresses_together_wait_but_not_long(ticks: Ticks) -> None:
    """Guessing from many addresses is slowed; the owner is never shut out for long."""
    waits = Waits(ticks)
    for number in range(FREE_GUESSES_OVERALL + 20):
        waits.wrong(f"address {number}")
    assert waits.seconds("the owner") == LONGEST_WAIT_OVERALL_SECONDS


@pytest.mark.parametrize("owner", ["127.0.0.1", "192.168.7.9"])
def test_strangers_cannot_shut_out_who_came_in_before(ticks: Ticks, owner: str) -> None:
    """Guessing on and on from many addresses keeps neither this machine waiting nor a device
    that knew the words; a new one waits.
    """
    waits = Waits(ticks)
    waits.right("192.168.7.9")
    for number in range(FREE_GUESSES_OVERALL + 20):
        waits.wrong(f"address {number}")
    assert waits.seconds(owner) == 0
    assert waits.seconds("a new device") > 0


def test_an_address_that_came_in_before_may_not_guess_on(ticks: Ticks) -> None:
    """Its own wrong guesses keep it waiting like any other."""
    waits = Waits(ticks)
    waits.right("a")
    for _ in range(FREE_GUESSES):
        waits.wrong("a")
    assert waits.seconds("a") > 0


def test_an_accent_is_one_however_it_is_typed() -> None:
    """One device sends a letter with its accent, another the accent as a sign of its own."""
    assert Passphrase.of("caf\u00e9 by the weir").matches("cafe\u0301 by the weir")


def test_a_visit_ends_by_itself(outside: Browser, ticks: Ticks) -> None:
    """After half a day the passphrase is asked again."""
    enter(outside)
    assert outside.get("/read").status == 200
    ticks.now += SIGNED_IN_SECONDS + 1
    assert outside.get("/read").status == 303


def test_signing_out_makes_the_cookie_worthless(outside: Browser) -> None:
    """A copy of the cookie opens nothing once its owner has signed out."""
    enter(outside)
    copied = outside.client.get_cookie(cookie_name(PORT), domain="127.0.0.1")
    assert copied is not None
    outside.post("/leave")
    outside.client.set_cookie(cookie_name(PORT), copied.value, domain="127.0.0.1")
    assert outside.get("/read").status == 303


def test_a_forged_cookie_opens_nothing(outside: Browser) -> None:
    """A cookie that this run did not sign is no visit."""
    outside.client.set_cookie(
        cookie_name(PORT), "eyJ2aXNpdCI6ICJ4In0.aaaa.bbbb", domain="127.0.0.1"
    )
    assert outside.get("/read").status == 303


def test_the_network_address_is_trusted_only_with_a_door(
    outside: Browser, browser: Callable[..., Browser]
) -> None:
    """Without --lan only this machine's own names are answered to."""
    host = {"Host": f"192.168.7.5:{PORT}"}
    assert outside.get("/login", host).status == 200
    assert browser().get("/", host).status == 400


def test_without_a_door_nobody_is_asked(browser: Callable[..., Browser]) -> None:
    """On this machine alone there is no passphrase and nothing to sign out of."""
    answer = browser().get("/read")
    assert (answer.status, "Sign out" in answer.words) == (200, False)


def test_the_words_themselves_are_kept_nowhere() -> None:
    """Only salt and digest are kept, and the same words give another digest each time."""
    assert WORDS.encode() not in KEPT.digest + KEPT.salt
    assert Passphrase.of(WORDS).digest != KEPT.digest


def test_a_short_passphrase_is_refused() -> None:
    """Words that could be guessed open no network."""
    with pytest.raises(QueryError, match="too short"):
        Passphrase.of("herons")


def test_a_passphrase_is_hashed_as_the_standard_says(monkeypatch: pytest.MonkeyPatch) -> None:
    """With the parameters of its second vector. Source: RFC 7914, section 12, the first half."""
    for name, value in (("COST", 1024), ("BLOCK", 8), ("PARALLEL", 16)):
        monkeypatch.setattr(f"kb.web.login.{name}", value)
    printed = "fdbabe1c9d3472007856e7190d01e9fe7c6ad7cbc8237830e77376634b373162"
    assert Passphrase(salt=b"NaCl", digest=bytes.fromhex(printed)).matches("password")


def test_a_form_from_before_a_restart_can_be_sent_again(browser: Callable[..., Browser]) -> None:
    """What was typed is shown to be sent once more, with a token that holds now."""
    own = browser()
    stale = own.post("/find", {"words": "two\nlines"}, token="from-an-earlier-run")
    assert (stale.status, "Send it once more" in stale.words) == (403, True)
    assert "two\nlines" in stale.html
    assert own.post("/find", {"words": "x"}, {"Origin": "http://evil.example"}).status == 403


def test_a_passphrase_is_never_put_into_a_page(outside: Browser) -> None:
    """A form from before a restart is not shown to be sent once more: it is asked for anew."""
    fields = {"passphrase": WORDS, "next": "/report/plan"}
    answer = outside.post("/login", fields, token="from-an-earlier-run")
    assert answer.status == 403
    assert WORDS not in answer.html
    assert "type the passphrase again" in answer.words
    inputs = {e.get("name"): e.get("value") for e in answer.elements.all("input")}
    assert inputs["next"] == "/report/plan"


def test_other_devices_are_led_to_the_encrypted_page(browser: Callable[..., Browser]) -> None:
    """A phone's plain request is answered with the address to use."""
    door = Door(KEPT, ("192.168.7.5",), fingerprint="AB:CD")
    phone = browser({"cardiology/one.md": NOTE}, lan=door)
    phone.client.environ_base["REMOTE_ADDR"] = "192.168.7.20"
    answer = phone.get("/read?x=1")
    assert (answer.status, answer.goes_to) == (308, f"{ADDRESS.replace('http', 'https')}/read?x=1")


def test_the_fingerprint_is_shown_once(browser: Callable[..., Browser]) -> None:
    """Before the first sign-in over the encrypted connection, and not before the next."""
    door = Door(KEPT, ("192.168.7.5",), fingerprint="AB:CD")
    phone = browser({"cardiology/one.md": NOTE}, lan=door).client
    phone.environ_base["REMOTE_ADDR"] = "192.168.7.20"
    secure = ADDRESS.replace("http", "https")
    first = phone.get("/login", base_url=secure).text
    assert "AB:CD" in first
    token = first.split('name="token" value="')[1].split('"')[0]
    form = {"passphrase": WORDS, "token": token, "next": "/"}
    assert (
        phone.post("/login", base_url=secure, data=form, headers={"Origin": secure}).status_code
        == 303
    )
    assert "AB:CD" not in phone.get("/login", base_url=secure).text
