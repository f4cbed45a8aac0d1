"""Who may use the page: this machine's browser by its key, other devices by a passphrase.

Only the passphrase's hash is kept, in memory: in the base it would be synchronised to other places,
where it could be guessed at leisure.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import threading
import time
import unicodedata
from collections import OrderedDict
from collections.abc import Callable
from dataclasses import dataclass
from math import ceil
from urllib.parse import urlencode

from flask import (
    Blueprint,
    Flask,
    current_app,
    make_response,
    redirect,
    render_template,
    request,
    session,
)
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import TooManyRequests, Unauthorized

from kb.core.errors import QueryError
from kb.core.wording import counted
from kb.web.page_key import PageKey, from_here

LEAST_LETTERS = 12
"""Least characters of a passphrase. Common practice, no source: the waits below leave some hundred
guesses an hour, far too few to find one."""

COST, BLOCK, PARALLEL = 2**15, 8, 1
"""Parameters of scrypt (RFC 7914): 32 MB and about a tenth of a second for each guess."""

FREE_GUESSES = 5
FREE_GUESSES_OVERALL = 20
FIRST_WAIT_SECONDS = 15.0
LONGEST_WAIT_SECONDS = 900.0
LONGEST_WAIT_OVERALL_SECONDS = 60.0
"""Someone who guesses must not be able to shut the owner out for long."""

OWN_MACHINE = "127.0.0.1"
FORGET_SECONDS = 3600.0
ADDRESS_COUNT = 500
"""Most addresses remembered; the one silent for longest is forgotten first."""

SIGNED_IN_SECONDS = 12 * 3600.0
SEEN_SECONDS = 400 * 86_400
"""As long as a certificate lasts."""
OPEN_TO_ALL = ("login.ask", "login.enter", "static")
WITHOUT_KEY = (
    "Open missbook again with the address it printed; what you typed is still on its page."
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Passphrase:
    """A passphrase as its scrypt hash."""

    salt: bytes
    digest: bytes

    @classmethod
    def of(cls, words: str) -> Passphrase:
        """Hash a passphrase.

        Raises:
            QueryError: It is too short.
        """
        if len(words.strip()) < LEAST_LETTERS:
            hint = f"at least {LEAST_LETTERS} characters: three or four words that do not belong"
            raise QueryError("the passphrase is too short", hint=hint)
        if not words.strip().isprintable():
            hint = "letters, digits and blanks can be typed on every device"
            raise QueryError("the passphrase holds what cannot be typed", hint=hint)
        salt = secrets.token_bytes(16)
        return cls(salt=salt, digest=_scrypt(words, salt))

    def matches(self, words: str) -> bool:
        """Whether these are the words, in constant time."""
        return hmac.compare_digest(_scrypt(words, self.salt), self.digest)


def _scrypt(words: str, salt: bytes) -> bytes:
    # Composed, as RFC 8265 asks for passphrases: one device types a letter and its accent as two
    # characters, another as one.
    raw = unicodedata.normalize("NFC", words).strip().encode()
    memory = 2 * 128 * COST * BLOCK
    return hashlib.scrypt(raw, salt=salt, n=COST, r=BLOCK, p=PARALLEL, maxmem=memory, dklen=32)


@dataclass(slots=True)
class _Guesser:
    wrong_count: int = 0
    last: float = 0.0
    wait_until: float = 0.0


class Waits:
    """How long to wait after wrong guesses: for each address, and for all of them together."""

    def __init__(self, ticks: Callable[[], float]) -> None:
        self._ticks = ticks
        self._guessers: OrderedDict[str, _Guesser] = OrderedDict()
        self._all = _Guesser()
        self._known: OrderedDict[str, None] = OrderedDict()

    def seconds(self, address: str) -> float:
        """How long this address must still wait; 0 if it may try.

        Guesses from other addresses delay neither this machine nor an address that has signed in
        before, so that guessing from many addresses cannot shut the owner out.
        """
        now = self._ticks()
        own = self._guessers.get(address, _Guesser()).wait_until - now
        known = address == OWN_MACHINE or address in self._known
        strangers = 0.0 if known else self._all.wait_until - now
        return max(0.0, own, strangers)

    def wrong(self, address: str) -> None:
        """Count a wrong guess."""
        own = self._guessers.pop(address, _Guesser())
        self._guessers[address] = own
        while len(self._guessers) > ADDRESS_COUNT:
            self._guessers.popitem(last=False)
        self._count(own, FREE_GUESSES, LONGEST_WAIT_SECONDS)
        self._count(self._all, FREE_GUESSES_OVERALL, LONGEST_WAIT_OVERALL_SECONDS)

    def right(self, address: str) -> None:
        """Forget this address's wrong guesses, and remember that it signed in."""
        self._guessers.pop(address, None)
        self._known.pop(address, None)
        self._known[address] = None
        while len(self._known) > ADDRESS_COUNT:
            self._known.popitem(last=False)

    def _count(self, guesser: _Guesser, free_count: int, longest: float) -> None:
        now = self._ticks()
        if now - guesser.last > FORGET_SECONDS:
            guesser.wrong_count = 0
        guesser.wrong_count += 1
        guesser.last = now
        over = guesser.wrong_count - free_count
        if over >= 0:
            guesser.wait_until = now + min(longest, FIRST_WAIT_SECONDS * 2.0 ** min(over, 16))


class Door:
    """The way in from the network.

    Args:
        passphrase: The passphrase that opens it.
        hosts: This machine's names and addresses on the network.
        ticks: A monotonic clock, in seconds.
        fingerprint: Of the certificate; without one, nothing is encrypted.
    """

    def __init__(
        self,
        passphrase: Passphrase,
        hosts: tuple[str, ...] = (),
        ticks: Callable[[], float] = time.monotonic,
        fingerprint: str = "",
    ) -> None:
        self.hosts, self.fingerprint = hosts, fingerprint
        self._passphrase, self._ticks = passphrase, ticks
        self._waits = Waits(ticks)
        self._inside: dict[str, float] = {}
        self._lock = threading.Lock()

    def try_words(self, address: str, words: str) -> str:
        """The name of a new visit; empty if the words are wrong.

        Raises:
            TooManyRequests: This address, or all together, guessed wrong too often.
        """
        # One at a time: parallel guesses gain nothing, and memory is bounded.
        with self._lock:
            wait = self._waits.seconds(address)
            if wait > 0:
                text = f"Too many wrong passphrases. Try again in {_span(wait)}."
                raise TooManyRequests(text, retry_after=int(wait) + 1)
            if not self._passphrase.matches(words):
                self._waits.wrong(address)
                return ""
            self._waits.right(address)
            now = self._ticks()
            self._inside = {name: until for name, until in self._inside.items() if until > now}
            visit = secrets.token_urlsafe(24)
            self._inside[visit] = now + SIGNED_IN_SECONDS
            return visit

    def knows(self, visit: str) -> bool:
        """Whether that visit has not ended."""
        return self._inside.get(visit, 0.0) > self._ticks()

    def leave(self, visit: str) -> None:
        """End a visit: its cookie is worthless from now on."""
        self._inside.pop(visit, None)


def _span(seconds: float) -> str:
    return counted(ceil(seconds), "second") if seconds < 120 else f"{ceil(seconds / 60)} minutes"


screen = Blueprint("login", __name__)


def install(app: Flask, key: PageKey, door: Door | None) -> None:
    """Let in who has the key or, through a door, the passphrase; nobody else sees anything."""
    if door:
        app.extensions["missbook-door"] = door
        app.register_blueprint(screen)
        app.jinja_env.globals["may_leave"] = lambda: door.knows(session.get("visit", ""))

    @app.before_request
    def check() -> ResponseReturnValue | None:
        if handed := key.handed_over():
            return handed
        if door and door.fingerprint and not request.is_secure and not from_here():
            return redirect(request.url.replace("http:", "https:", 1), code=308)
        signed_in = door is not None and door.knows(session.get("visit", ""))
        if key.held() or signed_in or request.endpoint in OPEN_TO_ALL:
            return None
        asks_page = request.method == "GET" and request.accept_mimetypes.best != "application/json"
        if door and asks_page:
            onwards = urlencode({"next": request.full_path.rstrip("?")})
            return redirect(f"/login?{onwards}", code=303)
        if door:
            raise Unauthorized("Sign in again first; what you typed is still on its page.")
        if asks_page:
            return render_template("closed.html", title="This page is closed"), 401
        raise Unauthorized(WITHOUT_KEY)


def _inside_only(address: str) -> str:
    """The address if it is a page of ours, otherwise the first page."""
    fine = address.startswith("/") and not address.startswith("//")
    return address if fine and address.isprintable() and "\\" not in address else "/"


def ask_again(onwards: str) -> ResponseReturnValue:
    """The form again, after one that was loaded before missbook was restarted."""
    return _form(onwards, "missbook was restarted meanwhile: type the passphrase again."), 403


@screen.get("/login")
def ask() -> ResponseReturnValue:
    """Ask for the passphrase."""
    return _form(request.args.get("next", "/"))


@screen.post("/login")
def enter() -> ResponseReturnValue:
    """Check the passphrase."""
    door: Door = current_app.extensions["missbook-door"]
    visit = door.try_words(request.remote_addr or "", request.form.get("passphrase", ""))
    onwards = _inside_only(request.form.get("next", "/"))
    if not visit:
        return _form(onwards, "That is not the passphrase."), 401
    session.clear()  # and with it the token of before
    session["visit"] = visit
    response = make_response(redirect(onwards, code=303))
    if door.fingerprint:
        response.set_cookie(
            _seen(),
            door.fingerprint,
            max_age=SEEN_SECONDS,
            httponly=True,
            samesite="Strict",
            secure=True,
        )
    return response


def _seen() -> str:
    """The cookie of a browser that has shown the fingerprint of the certificate."""
    return f"{current_app.config['SESSION_COOKIE_NAME']}-seen"


@screen.post("/leave")
def leave() -> ResponseReturnValue:
    """Sign out."""
    door: Door = current_app.extensions["missbook-door"]
    door.leave(session.get("visit", ""))
    session.clear()
    response = make_response(redirect("/login", code=303))
    # Not "cookies": that would sign out of every base on this machine, whatever its port.
    response.headers["Clear-Site-Data"] = '"cache", "storage"'
    return response


def _form(onwards: str, wrong: str = "") -> str:
    door: Door = current_app.extensions["missbook-door"]
    known = not request.is_secure or request.cookies.get(_seen()) == door.fingerprint
    return render_template(
        "login.html",
        title="Sign in",
        next=_inside_only(onwards),
        wrong=wrong,
        fingerprint="" if known else door.fingerprint,
    )
