"""An image of a note, made small enough to print or to carry, and without what a camera adds."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from io import BytesIO

MOST_PIXELS = 40_000_000
"""Larger images are left out: unpacking them would take the machine's memory."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Small:
    """An image ready for use; `kind` is its media type, sizes are in pixels."""

    raw: bytes
    kind: str
    width: int
    height: int


def small(raw: bytes, most: int) -> Small | None:
    """The image with no side longer than `most` pixels, or None if it is none that can be read.

    It is always written anew, so that nothing but the picture goes along: no place, no device.
    """
    from PIL import Image, ImageOps

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            with Image.open(BytesIO(raw)) as opened:
                if opened.width * opened.height > MOST_PIXELS:
                    return None
                photograph = opened.format == "JPEG"
                image = ImageOps.exif_transpose(opened)
                image.thumbnail((most, most))
                image = image.convert("RGB" if photograph or not _clear(image) else "RGBA")
    except (OSError, ValueError, SyntaxError, Warning, Image.DecompressionBombError):
        return None
    out = BytesIO()
    if photograph:
        image.save(out, "JPEG", quality=82)
    else:
        image.save(out, "PNG", optimize=True)
    kind = "image/jpeg" if photograph else "image/png"
    return Small(raw=out.getvalue(), kind=kind, width=image.width, height=image.height)


def _clear(image: object) -> bool:
    """Whether parts of an image can be seen through."""
    return "A" in getattr(image, "mode", "") or "transparency" in getattr(image, "info", {})
