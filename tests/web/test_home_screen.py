"""The page on a phone's home screen: a manifest, icons, and a worker of the same origin."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

    from web_client import Browser


def test_the_manifest_has_what_a_phone_asks_for(browser: Callable[..., Browser]) -> None:
    """Name, start, display and icons of 192 and 512 pixels, each of which is there.

    Source: W3C Web Application Manifest; the two sizes are those that browsers ask for.
    """
    page = browser()
    answer = page.get("/manifest.webmanifest")
    assert answer.headers["Content-Type"].startswith("application/manifest+json")
    assert (answer.json["start_url"], answer.json["display"]) == ("/", "standalone")
    assert [icon["sizes"] for icon in answer.json["icons"]] == ["192x192", "512x512"]
    for icon in answer.json["icons"]:
        assert page.get(icon["src"]).raw.startswith(b"\x89PNG")
    assert "manifest-src 'self'" in page.get("/log").headers["Content-Security-Policy"]


def test_the_worker_lies_at_the_root(browser: Callable[..., Browser]) -> None:
    """A worker serves only addresses below its own; it asks no other origin for anything."""
    answer = browser().get("/offline.js")
    assert answer.status == 200
    assert "javascript" in answer.headers["Content-Type"]
    assert "http" not in answer.html
