"""The page on a phone's home screen: its manifest, and the script that keeps what is needed without
a connection.
"""

from __future__ import annotations

from flask import Blueprint, Response, current_app, jsonify

COLOUR = "#fcfcfa"
SIZES = (192, 512)
screen = Blueprint("home_screen", __name__)


@screen.get("/manifest.webmanifest")
def manifest() -> Response:
    """What a phone needs to know to add the page to its home screen (W3C Web App Manifest)."""
    icons = [
        {"src": f"/static/icon-{size}.png", "sizes": f"{size}x{size}", "type": "image/png"}
        for size in SIZES
    ]
    answer = jsonify(
        name="missbook",
        short_name="missbook",
        start_url="/",
        scope="/",
        display="standalone",
        background_color=COLOUR,
        theme_color=COLOUR,
        icons=icons,
    )
    answer.mimetype = "application/manifest+json"
    return answer


@screen.get("/offline.js")
def offline() -> Response:
    """The service worker; at the root, since a worker serves only addresses below its own."""
    return current_app.send_static_file("offline.js")
