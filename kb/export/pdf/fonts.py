"""The fonts of a print: a narrow one to read, and one of wide coverage for the characters it lacks.

Both are open fonts carried by packages: Source Sans Pro (SIL Open Font License) has Greek and
arrows, and DejaVu (its own free licence) nearly every other sign. Only the shapes used go into
the file; a character that neither has is printed as a box.
"""

import importlib.util
import unicodedata
from collections.abc import Iterator
from functools import cache
from itertools import groupby
from operator import itemgetter
from pathlib import Path

from reportlab.lib.fonts import addMapping
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

from kb.core.errors import KBError

TEXT, SIGNS, CODE = "text", "signs", "code"
DEJAVU = ("matplotlib", "mpl-data/fonts/ttf")
FACES = {
    TEXT: (
        ("font_source_sans_pro", "files"),
        *("SourceSansPro-Regular", "SourceSansPro-Semibold"),
        *("SourceSansPro-It", "SourceSansPro-SemiboldIt"),
    ),
    **{
        family: (DEJAVU, name, f"{name}-Bold", f"{name}-Oblique", f"{name}-BoldOblique")
        for family, name in ((SIGNS, "DejaVuSans"), (CODE, "DejaVuSansMono"))
    },
}
"""Family -> package and folder, upright, bold, slanted, and bold slanted."""
BOX = "\u25a1"
"""Replaces a character that no font has."""


def register() -> None:
    """Register the families with the PDF library; doing it again changes nothing.

    Raises:
        KBError: A package with a font is not installed.
    """
    for family, (place, *names) in FACES.items():
        for kind, name in enumerate(names):
            italic, bold = divmod(kind, 2)
            face = family + "b" * bold + "i" * italic
            if face not in pdfmetrics.getRegisteredFontNames():
                pdfmetrics.registerFont(TTFont(face, str(_folder(*place) / f"{name}.ttf")))
                addMapping(family, bold, italic, face)


def _folder(package: str, inside: str) -> Path:
    found = importlib.util.find_spec(package)
    if found is None or not found.submodule_search_locations:
        hint = "run scripts/start.py again, or: pip install " + package.replace("_", "-")
        raise KBError(f"the fonts of the package {package} are missing", hint)
    return Path(found.submodule_search_locations[0]) / inside


@cache
def _signs(family: str) -> frozenset[int]:
    """Every code point that a registered family has, upright."""
    return frozenset(pdfmetrics.getFont(family).face.charToGlyph)


def runs(text: str, family: str = TEXT) -> Iterator[tuple[str, str]]:
    """A text as (piece, family that can show it), in order.

    What no font has is tried in its plain form, then shown as a box. Controls are left out.
    """
    shown = (_shown(sign, family) for sign in unicodedata.normalize("NFC", text))
    for face, signs in groupby(shown, key=itemgetter(1)):
        if piece := "".join(sign for sign, _ in signs):
            yield piece, face


@cache
def _shown(sign: str, family: str) -> tuple[str, str]:
    """The replacement for one sign, and the family that has all of it."""
    own, more = _signs(family), _signs(SIGNS)
    if ord(sign) in own or sign in "\t\n ":
        return sign, family
    if ord(sign) not in more:
        if unicodedata.category(sign) in ("Cc", "Cf", "Cs", "Mn", "Me"):
            return "", family
        plain = unicodedata.normalize("NFKC", sign)
        sign = "".join(c if ord(c) in more else BOX for c in plain)
    return sign, family if all(ord(c) in own for c in sign) else SIGNS


def width(text: str, size: float, *, bold: bool = False) -> float:
    """How wide a text is in points."""
    tail = "b" if bold else ""
    return sum(
        float(pdfmetrics.stringWidth(piece, face + tail, size)) for piece, face in runs(text)
    )
