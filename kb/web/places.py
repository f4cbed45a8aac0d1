"""The five places of the page, which of them each screen belongs to, and the way back."""

from typing import NamedTuple


class Place(NamedTuple):
    """A word of the navigation, or a step of the way back, and its address."""

    word: str
    address: str


TODAY, LOG, FIND = Place("Today", "/"), Place("Log", "/log"), Place("Find", "/find")
READ, PROGRESS = Place("Read", "/read"), Place("Progress", "/progress")
PLACES = (TODAY, LOG, FIND, READ, PROGRESS)
PAPERS = Place("Papers", "/sittings")
MISSES = Place("Misses without a note", "/log/misses")

READ_REPORTS = ("brief", "history", "map", "mixups", "queue", "reread", "retry")
"""Reports that lead to notes or questions; all others belong to Progress."""

WAYS: tuple[tuple[str, tuple[Place, ...]], ...] = (
    ("/log/miss/", (LOG, MISSES)),
    ("/log", (LOG,)),
    ("/find", (FIND,)),
    *((f"/report/{name}", (READ,)) for name in READ_REPORTS),
    ("/report/find", (FIND,)),
    ("/report/today", (TODAY,)),
    ("/report", (PROGRESS,)),
    ("/sittings/", (PROGRESS, PAPERS)),
    ("/sittings", (PROGRESS,)),
    ("/progress", (PROGRESS,)),
    *((start, (READ,)) for start in ("/read", "/note", "/area", "/compare", "/merge", "/rename")),
    ("/undo", (LOG,)),
    ("/", (TODAY,)),
)
"""What an address begins with, and the way to it from a word of the navigation."""


def way_to(path: str) -> tuple[Place, ...]:
    """The way to a screen: its place first, then what lies between; the screen itself left out."""
    way = next(way for start, way in WAYS if path.startswith(start))
    return tuple(place for place in way if place.address != path)


def place_of(path: str) -> Place:
    """The word of the navigation that a screen belongs to."""
    return next(way[0] for start, way in WAYS if path.startswith(start))
