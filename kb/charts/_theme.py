"""How wide a picture is, and its one ink on its paper.

Light and dark, narrow and wide are four files, since an image cannot see the colours of its page.
"""

from dataclasses import dataclass

WIDTH, NARROWEST, WIDEST = 560, 280, 2000
"""Pixels. The usual width fills a page of A4 between its margins when a pixel is a point."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """One ink, on paper: `quiet` for secondary text and `line` for rulings."""

    paper: str
    ink: str
    quiet: str
    line: str


PRINT = Palette(paper="#ffffff", ink="#16324f", quiet="#4c6379", line="#c9d2db")
LIGHT = Palette(paper="#fcfcfa", ink="#16324f", quiet="#4c6379", line="#c9d2db")
DARK = Palette(paper="#0f1a26", ink="#d9e5f1", quiet="#a4b7ca", line="#2e4257")
"""The last two are the page's own, by day and by night."""
PALETTES = {"print": PRINT, "light": LIGHT, "dark": DARK}


@dataclass(frozen=True, slots=True, kw_only=True)
class Style:
    """Width in pixels (points in a PDF), the palette, and whether the picture is on its own.

    A picture that stands `alone` has its title and the caution; on the page these surround it.
    """

    width: int = WIDTH
    palette: Palette = PRINT
    alone: bool = True
