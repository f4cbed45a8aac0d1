"""The page on a phone's home screen: its manifest, and the script that keeps what is needed without
a connection.
"""

from flask import Blueprint, Response, current_app

screen = Blueprint("home_screen", __name__)


@screen.get("/manifest.webmanifest")
def manifest() -> Response:
    """What a phone needs to know to add the page to its home screen (W3C Web App Manifest)."""
    answer = current_app.send_static_file("manifest.webmanifest")
    answer.mimetype = "application/manifest+json"
    return answer


@screen.get("/offline.js")
def offline() -> Response:
    """The service worker; at the root, since a worker serves only addresses below its own."""
    return current_app.send_static_file("offline.js")
