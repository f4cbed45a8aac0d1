"""The key to the page: a browser has it from the address of its first visit, and keeps it.

Without it any account of a shared computer could read and write, since all of them reach 127.0.0.1.
It is taken from this machine only: other devices have the passphrase.
"""

import hmac
from urllib.parse import quote, urlencode

from flask import Response, make_response, render_template, request

from kb.web.request_guard import cookie_name

ARGUMENT = "key"
OWN_MACHINE = ("127.0.0.1", "::1")
KEPT_SECONDS = 180 * 86_400
"""How long a browser keeps it: a bookmark stays good over the months before an exam."""


def from_here() -> bool:
    """Whether the request comes from this machine."""
    return request.remote_addr in OWN_MACHINE


class PageKey:
    """The key to one page.

    Args:
        key: The secret.
        port: Where the page is; part of the cookie's name.
    """

    def __init__(self, key: str, port: int) -> None:
        self._key, self.cookie = key.encode(), f"{cookie_name(port)}-key"

    def held(self) -> bool:
        """Whether the browser has the key."""
        return self._fits(request.cookies.get(self.cookie, ""))

    def handed_over(self) -> Response | None:
        """The answer to an address with the right key: a cookie, and on to the page itself.

        It is a page and no redirect: a browser that came from elsewhere, such as a file, would not
        send the new cookie along a redirect.
        """
        given = request.args.get(ARGUMENT)
        if request.method != "GET" or given is None or not self._fits(given):
            return None
        others = [(k, v) for k, v in request.args.items(multi=True) if k != ARGUMENT]
        path = quote("/" + request.path.lstrip("/\\"))
        onwards = f"{path}?{urlencode(others)}" if others else path
        response = make_response(render_template("opening.html", title="Opening", onwards=onwards))
        response.set_cookie(
            self.cookie,
            self._key.decode(),
            max_age=KEPT_SECONDS,
            httponly=True,
            samesite="Strict",
        )
        response.headers["Cache-Control"] = "no-store"
        response.headers["Referrer-Policy"] = "no-referrer"
        return response

    def _fits(self, given: str) -> bool:
        return from_here() and hmac.compare_digest(given.encode(), self._key)
