"""Which requests are answered: Host and Origin, tokens of forms, sizes, and response headers."""

import hmac
import secrets

from flask import Flask, Response, request, session
from flask.sessions import SecureCookieSessionInterface
from werkzeug.exceptions import BadRequest, Forbidden

from kb.core.wording import UNSEEN, visible_html

BODY_BYTES = 2 * 1024 * 1024
"""Largest form accepted: a pasted sheet of thousands of lines is some 100 kB."""

FIELD_COUNT = 1000
"""Most fields of a form."""

TOKEN_FIELD, TOKEN_HEADER = "token", "X-Token"
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")

POLICY = (
    "default-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self';"
    " manifest-src 'self';"
    " form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = (
    ("Content-Security-Policy", POLICY),
    ("X-Content-Type-Options", "nosniff"),
    ("X-Frame-Options", "DENY"),
    # Not no-referrer: with it a browser sends forms with 'Origin: null'.
    ("Referrer-Policy", "same-origin"),
    ("Cross-Origin-Opener-Policy", "same-origin"),
    ("Cross-Origin-Resource-Policy", "same-origin"),
    ("Permissions-Policy", "camera=(), microphone=(), geolocation=()"),
    # Not no-store: going back after a lost connection must find what was typed.
    ("Cache-Control", "private, no-cache"),
)


def trusted_hosts(port: int, names: tuple[str, ...] = ()) -> frozenset[str]:
    """What the Host header may hold: this machine itself, and the `names` it is known by."""
    hosts = ("127.0.0.1", "localhost", "[::1]", *names)
    bare = frozenset(hosts) if port == 80 else frozenset()
    return bare | {f"{host}:{port}".casefold() for host in hosts}


def cookie_name(port: int) -> str:
    """A browser sends cookies to every port of a machine: two bases open at once, each on its own
    port, must not use each other's.
    """
    return f"missbook-{port}"


class _Sessions(SecureCookieSessionInterface):
    """Its cookie never leaves the browser in the clear where it came encrypted."""

    def get_cookie_secure(self, app: Flask) -> bool:
        """Whether it came encrypted."""
        return request.is_secure


def install(app: Flask, hosts: frozenset[str], port: int) -> None:
    """Check every request before a screen sees it, and add the headers to every response."""
    app.config.update(
        MAX_CONTENT_LENGTH=BODY_BYTES,
        MAX_FORM_MEMORY_SIZE=BODY_BYTES,
        MAX_FORM_PARTS=FIELD_COUNT,
        SECRET_KEY=secrets.token_bytes(32),
        SESSION_COOKIE_NAME=cookie_name(port),
        SESSION_COOKIE_HTTPONLY=True,
        SESSION_COOKIE_SAMESITE="Strict",
    )
    app.session_interface = _Sessions()

    @app.before_request
    def check() -> None:
        check_host(hosts)
        check_site()
        if request.method not in SAFE_METHODS:
            check_origin()
            check_token()

    @app.after_request
    def add_headers(response: Response) -> Response:
        for name, value in HEADERS:
            response.headers.setdefault(name, value)
        if response.mimetype == "text/html" and UNSEEN.search(
            text := response.get_data(as_text=True)
        ):
            response.set_data(visible_html(text))
        return response


def check_host(hosts: frozenset[str]) -> None:
    """Refuse a request that came by a name this machine does not answer to.

    A foreign page can make a browser call 127.0.0.1 under a name of its own.
    """
    if request.headers.get("Host", "").casefold() not in hosts:
        raise BadRequest("This address is not one that missbook answers to.")


def check_site() -> None:
    """Refuse what a page of another site fetches, such as a picture to see whether it is there.

    A link from elsewhere that a person follows is fine.
    """
    site = request.headers.get("Sec-Fetch-Site", "same-origin")
    mode = request.headers.get("Sec-Fetch-Mode", "navigate")
    if site not in ("same-origin", "none") and mode != "navigate":
        raise Forbidden("This was asked for by another site.")


def check_origin() -> None:
    """Refuse a form that another site sent."""
    site = request.headers.get("Sec-Fetch-Site", "same-origin")
    origin = request.headers.get("Origin")
    own = f"{request.scheme}://{request.headers.get('Host', '')}"
    if site not in ("same-origin", "none") or (origin is not None and origin != own):
        raise Forbidden("This came from another site, so nothing was done.")


class StaleFormError(Exception):
    """A form of this page with a token from before missbook was restarted."""


def check_token() -> None:
    """Refuse a form that was not made by this page.

    Raises:
        StaleFormError: The browser vouches that it was, but the token is an old one.
        Forbidden: Nobody vouches for it.
    """
    given = request.headers.get(TOKEN_HEADER) or request.form.get(TOKEN_FIELD, "")
    own = str(session.get("token", ""))
    if own and hmac.compare_digest(given.encode(), own.encode()):
        return
    if given and request.headers.get("Origin"):
        raise StaleFormError
    raise Forbidden("This form did not come from this page, so nothing was done.")


def token() -> str:
    """The token that every form of this browser must carry."""
    if "token" not in session:
        session["token"] = secrets.token_urlsafe(24)
    return str(session["token"])
