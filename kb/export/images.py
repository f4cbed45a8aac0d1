"""An image of a note, made small enough to print or to carry, and without the metadata that a
camera adds.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from io import BytesIO
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL import Image

MOST_PIXELS = 40_000_000
"""Larger images are left out: decoding them could exhaust the machine's memory."""
PHOTOGRAPHS = ("JPEG", "MPO")
"""The second is what many phones write into a .jpg: several JPEGs, of which the first is shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Small:
    """An image ready for use; `kind` is its media type, sizes are in pixels."""

    raw: bytes
    kind: str
    width: int
    height: int


def small(raw: bytes, most: int) -> Small | None:
    """The image with no side longer than `most` pixels, or None if it cannot be read.

    It is always encoded afresh, so that only the picture goes along: no place, no device.
    """
    from PIL import Image, ImageOps

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(BytesIO(raw)) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    return None
                photograph = opened.format in PHOTOGRAPHS
                image = _plain(ImageOps.exif_transpose(opened))
                image.thumbnail((most, most))
    except (OSError, ValueError, SyntaxError, Warning, Image.DecompressionBombError):
        return None
    out = BytesIO()
    image.save(out, "JPEG" if photograph else "PNG", quality=82, optimize=not photograph)
    kind = "image/jpeg" if photograph else "image/png"
    return Small(raw=out.getvalue(), kind=kind, width=image.width, height=image.height)


def _plain(image: Image.Image) -> Image.Image:
    """An image in 8-bit colour. Done before it is scaled down: a palette image would lose its thin
    lines, and 16-bit greys, as scanners make them, would not be shown.
    """
    if image.mode.startswith("I"):
        image = image.convert("I").point(lambda grey: grey * (1 / 256)).convert("L")
    seen_through = "A" in image.mode or "transparency" in image.info
    return image.convert("RGBA" if seen_through else "RGB")
