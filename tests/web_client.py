"""A browser without a screen: it requests pages and reads what comes back."""

from __future__ import annotations

from datetime import UTC, datetime, time
from html.parser import HTMLParser
from typing import TYPE_CHECKING, Any

from kb.web.app import create_app

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date
    from pathlib import Path

    from werkzeug.test import TestResponse

PORT = 8017
ADDRESS = f"http://127.0.0.1:{PORT}"
KEY = "k" * 43
KEY_COOKIE = f"missbook-{PORT}-key"
"""What a browser on this machine has."""


class Elements(HTMLParser):
    """Every start tag with its attributes, and the text inside each element."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self._open: list[tuple[str, list[str]]] = []
        self._texts: list[tuple[str, str]] = []
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Remember a tag."""
        self.tags.append((tag, dict(attrs)))
        self._open.append((tag, []))

    def handle_data(self, data: str) -> None:
        """Add to the text of every open element."""
        for _, words in self._open:
            words.append(data)

    def handle_endtag(self, tag: str) -> None:
        """Close the element."""
        while self._open:
            name, words = self._open.pop()
            if name == tag:
                self._texts.append((tag, " ".join("".join(words).split())))
                return

    def texts(self, tag: str) -> list[str]:
        """The text of every element of that name, innermost first."""
        return [text for name, text in self._texts if name == tag]

    def all(self, tag: str) -> list[dict[str, str | None]]:
        """The attributes of every element of that name."""
        return [attributes for name, attributes in self.tags if name == tag]


class Answer:
    """What the page answered."""

    def __init__(self, response: TestResponse) -> None:
        self.status = response.status_code
        self.headers = response.headers
        self.raw = response.data
        self.html = response.data.decode("utf-8", errors="replace")
        self.json: Any = response.get_json(silent=True)
        self.elements = Elements(self.html)
        response.close()

    @property
    def words(self) -> str:
        """All the text on the page."""
        return (self.elements.texts("body") or [self.html])[-1]

    @property
    def goes_to(self) -> str:
        """Where a redirect leads."""
        return self.headers.get("Location", "")


class Browser:
    """One browser on the page of one base."""

    def __init__(self, root: Path, on: date, **more: Any) -> None:
        now = datetime.combine(on, time(12), UTC)
        self.root = root
        self.app = create_app(root, clock=lambda: now, device="test", port=PORT, key=KEY, **more)
        self.app.testing = False
        self.app.extensions["missbook"].patience_seconds = 60.0  # however busy the machine is
        self.client = self.app.test_client()
        if "lan" not in more:
            self.client.set_cookie(KEY_COOKIE, KEY, domain="127.0.0.1")

    def get(self, address: str, headers: Mapping[str, str] | None = None) -> Answer:
        """Follow a link."""
        return Answer(self.client.get(address, base_url=ADDRESS, headers=dict(headers or {})))

    def token(self) -> str:
        """The token that this browser's forms carry."""
        return str(self.get("/token").json["token"])

    def post(
        self,
        address: str,
        fields: Mapping[str, Any] | None = None,
        headers: Mapping[str, str] | None = None,
        *,
        token: str | None = None,
    ) -> Answer:
        """Send a form as the page itself would; `token` overrides the one it should carry."""
        form = {"token": self.token() if token is None else token, **(fields or {})}
        sent = {"Origin": ADDRESS, "Sec-Fetch-Site": "same-origin", **(headers or {})}
        return Answer(self.client.post(address, base_url=ADDRESS, data=form, headers=sent))
