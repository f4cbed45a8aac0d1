"""Images are made small without losing what they show."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from PIL import Image, ImageDraw

from kb.export.images import small

if TYPE_CHECKING:
    from numpy.typing import NDArray


def file(image: Image.Image, kind: str = "PNG", **more: Any) -> bytes:
    """The image as a file."""
    out = BytesIO()
    image.save(out, kind, **more)
    return out.getvalue()


def shown(raw: bytes, most: int, mode: str = "L") -> NDArray[np.uint8]:
    """The pixels of the small image."""
    found = small(raw, most)
    assert found is not None
    return np.asarray(Image.open(BytesIO(found.raw)).convert(mode))


@pytest.mark.parametrize("mode", ["1", "P", "L", "RGB"])
def test_a_thin_line_stays_whole_when_made_small(mode: str) -> None:
    """Every column of a slanting line a pixel wide is still darker than the paper."""
    image = Image.new("L", (1600, 400), 255)
    ImageDraw.Draw(image).line((0, 20, 1600, 380), fill=0)
    assert shown(file(image.convert(mode)), 400).min(axis=0).max() < 250


def test_greys_of_sixteen_bits_are_shown() -> None:
    """From black to white as in the original."""
    greys = np.tile(np.linspace(0, 65535, 300).astype(np.uint16), (40, 1))
    row = shown(file(Image.fromarray(greys)), 300)[20]
    assert row.tolist() == pytest.approx(np.linspace(0, 255, 300), abs=1.5)


def test_what_can_be_seen_through_stays_so() -> None:
    """A drawing on no ground is printed on the paper, not on black."""
    assert shown(file(Image.new("LA", (40, 40), (0, 0))), 20, "RGBA")[..., 3].max() == 0


@pytest.mark.parametrize("kind", ["JPEG", "MPO"])
def test_a_photograph_stays_one(kind: str) -> None:
    """It is many times larger when written as a drawing; phones write it in either way."""
    image = Image.new("RGB", (40, 40), "grey")
    more = {"save_all": True, "append_images": [image]} if kind == "MPO" else {}
    found = small(file(image, kind, **more), 20)
    assert found is not None
    assert (found.kind, found.width, found.height) == ("image/jpeg", 20, 20)


def test_an_image_that_would_fill_the_memory_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its size is read before its pixels are."""
    monkeypatch.setattr("kb.export.images.MOST_PIXELS", 1000)
    assert small(file(Image.new("L", (40, 40))), 20) is None
