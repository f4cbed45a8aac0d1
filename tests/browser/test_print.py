"""What a printed screen has: pictures drawn for paper, whole and at once, and lists to the end."""

from __future__ import annotations

import base64
import io
from typing import TYPE_CHECKING

from pypdf import PdfReader

if TYPE_CHECKING:
    from visitor import Visitor

SEEN = """
return [...document.querySelectorAll('.chart img')].map(image => [image.checkVisibility(),
  image.currentSrc.includes('scheme=light'), image.complete && image.naturalWidth > 0,
  image.getBoundingClientRect().height <= 19 / 2.54 * 96 + 1]);
"""


def printed(visitor: Visitor) -> str:
    """The text of the page as it goes to a printer."""
    answer = visitor.driver.execute_cdp_cmd("Page.printToPDF", {})
    pages = PdfReader(io.BytesIO(base64.b64decode(answer["data"]))).pages
    return " ".join(" ".join(page.extract_text() for page in pages).split())


def test_a_dark_screen_prints_light_charts(visitor: Visitor) -> None:
    """Loaded before anyone prints, one for each chart, none higher than a sheet."""
    visitor.scheme("dark")
    visitor.open("/report/standing")
    visitor.until(lambda: all(row[2] for row in visitor.run(SEEN)), "every picture")
    visitor._cdp("Emulation.setEmulatedMedia", media="print")
    try:
        seen = [row[1:] for row in visitor.run(SEEN) if row[0]]
    finally:
        visitor._cdp("Emulation.setEmulatedMedia", media="")
    assert seen == [[True, True, True]] * 2
    assert "pass 61%" in printed(visitor)


def test_a_folded_list_is_printed_to_its_end(visitor: Visitor) -> None:
    """What `60 more` opens on the screen is on the sheet."""
    visitor.open("/report/reread")
    assert "60 more" in visitor.text
    text = printed(visitor)
    assert "60 more" not in text
    assert "Which repeats get worse through whom" in text
