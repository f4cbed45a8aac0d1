"""Printed notes: what stands on the pages, and that nothing is cut, lost or unreadable."""

from __future__ import annotations

import re
import struct
import zlib
from io import BytesIO
from typing import Any

import pytest
from handouts import DAY, leaf
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PageObject, PdfReader

from kb.core.ids import AreaId
from kb.core.wording import CAUTION
from kb.export.handout import Handout, Leaf
from kb.export.pdf import Printed, fonts, write_pdf
from kb.export.pdf.flowables import Ticked
from kb.export.pdf.styles import BOX, COLUMN, style

HALF_A_PAGE = 270
TABLE = "| sign | one | two |\n| --- | :-: | --: |\n| x | 1 | 2 |\n"


def handout(*leaves: Leaf, **more: object) -> Handout:
    """A handout of these notes."""
    given: dict[str, object] = {"title": "Chosen notes", "right": "14 Feb 2027", "day": DAY}
    return Handout(leaves=leaves, **{**given, **more})  # type: ignore[arg-type]


def printed(*leaves: Leaf, **more: object) -> Printed:
    """The same, printed."""
    return write_pdf(handout(*leaves, **more))


def pages(made: Printed) -> list[str]:
    """The words of each page, white space made one."""
    return [" ".join(p.extract_text().split()) for p in PdfReader(BytesIO(made.raw)).pages]


def words(body: str) -> str:
    """The words of all pages of a print of one note."""
    return " ".join(pages(printed(leaf(body))))


def marked_places(page: PageObject) -> dict[str, float]:
    """How far from the left each line with a mark such as `begin3` or `end3` stands."""
    places: dict[str, float] = {}

    def look(text: str, _: object, matrix: list[float], *__: object) -> None:
        for mark in re.findall(r"(?:begin|end)\d", text):
            places[mark] = matrix[4]

    page.extract_text(visitor_text=look)
    return places


def png(width: int, height: int) -> bytes:
    """A grey picture, written by hand."""
    rows = zlib.compress(b"".join(b"\0" + b"\x80" * width for _ in range(height)))
    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    chunks = ((b"IHDR", head), (b"IDAT", rows), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))
        for name, data in chunks
    )


def test_every_page_bears_the_caution_the_title_and_its_number() -> None:
    """Whichever page is lost, each of the others says what it is and what it is not for."""
    made = printed(*(leaf("Word " * 300, f"Note {n}") for n in range(9)))
    found = pages(made)
    assert len(found) == made.page_count > 2
    for number, text in enumerate(found, start=1):
        assert CAUTION in text
        assert "Chosen notes" in text
        assert "14 Feb 2027" in text
        assert f"page {number} of {len(found)}" in text


def test_a_note_is_printed_with_its_evidence_questions_and_basis() -> None:
    """What the list says of a note stands beside its text."""
    text = words("A fact.")
    for part in (
        "1 A title",
        "Nephrology, failing: wrong 2 of the last 3",
        "A fact.",
        "north:101",
        "basis: physiology text, 2024 edition",
    ):
        assert part in text


def test_pages_are_a4_with_title_and_language_and_no_author() -> None:
    """A reading program names the file and speaks it in British English."""
    reader = PdfReader(BytesIO(printed(leaf()).raw))
    box = reader.pages[0].mediabox
    assert (round(float(box.width)), round(float(box.height))) == (595, 842)
    assert reader.metadata is not None
    assert reader.metadata.title == "Chosen notes"
    assert not reader.metadata.author
    assert reader.root_object["/Lang"] == "en-GB"


def outline(made: Printed) -> list[tuple[int, str, int]]:
    """Every entry of the outline: how deep it stands, its title, the number of its page."""
    reader = PdfReader(BytesIO(made.raw))

    def walk(entries: list[Any], depth: int) -> list[tuple[int, str, int]]:
        found: list[tuple[int, str, int]] = []
        for entry in entries:
            if isinstance(entry, list):
                found += walk(entry, depth + 1)
            else:
                page = reader.get_destination_page_number(entry)
                found.append((depth, str(entry.title), 1 + (page or 0)))
        return found

    return walk(reader.outline, 0)


def test_the_outline_leads_to_the_page_of_each_note() -> None:
    """On a screen a note is reached by its title, whatever signs that has."""
    titles = ["α-blockers & <Hüfte>", *(f"Note {n}" for n in range(8))]
    made = printed(*(leaf("word " * 300, title) for title in titles))
    found = outline(made)
    assert [title for _, title, _ in found] == [f"{n} {t}" for n, t in enumerate(titles, start=1)]
    assert [found[0][2], found[-1][2]] == [1, made.page_count]


def test_in_the_outline_notes_stand_under_their_areas() -> None:
    """As they do on the pages."""
    notes = (leaf(title="One"), leaf(title="Two", area_name="Neurology"))
    made = printed(*notes, by_area=True)
    assert [(depth, title) for depth, title, _ in outline(made)] == [
        (0, "Nephrology"),
        (1, "1 One"),
        (0, "Neurology"),
        (1, "2 Two"),
    ]


def test_the_window_of_a_reading_program_bears_the_title() -> None:
    """Not the name of the file."""
    reader = PdfReader(BytesIO(printed(leaf()).raw))
    assert reader.root_object["/ViewerPreferences"]["/DisplayDocTitle"].value


def test_the_file_says_of_itself_what_it_is_not_for() -> None:
    """Where a program shows a file's particulars, the caution stands among them."""
    metadata = PdfReader(BytesIO(printed(leaf()).raw)).metadata
    assert metadata is not None
    assert metadata.subject == CAUTION


def test_the_same_notes_give_the_same_bytes() -> None:
    """A print can be compared with an earlier one."""
    notes = [leaf(f"α → β\n\n{TABLE}", f"Note {n}") for n in range(5)]
    assert printed(*notes).raw == printed(*notes).raw


def test_every_font_is_embedded_with_only_the_signs_used() -> None:
    """A print looks the same on any machine, and a short one is small."""
    reader = PdfReader(BytesIO(printed(leaf("*a* **b** `c` ⁺ ☐")).raw))
    fonts = [font.get_object() for font in reader.pages[0]["/Resources"]["/Font"].values()]
    assert len(fonts) >= 4
    for font in fonts:
        assert re.match(r"/[A-Z]{6}\+", font["/BaseFont"])
        assert "/FontFile2" in font["/FontDescriptor"].get_object()


@pytest.mark.parametrize("sign", "αβγμΔΩ→←↑↓≥≤±°²₂⁺⁻⇌✓é")
def test_signs_of_medicine_are_shown(sign: str) -> None:
    """Greek letters, arrows, charges and comparisons are in the file as themselves."""
    assert f"a{sign}b" in words(f"a{sign}b")


def test_a_sign_that_no_font_has_is_shown_as_a_box() -> None:
    """It is seen that something is missing, not passed over."""
    assert "before □ after" in words("before \U0001f9a0 after")


def test_markdown_is_rendered_not_shown() -> None:
    """Marks of Markdown become what they mean."""
    text = words(
        "# Head\n\n1. one\n2. two\n\n- point\n\n**bold** *slant* `code`\n\n> said\n\n" + TABLE
    )
    for part in ("Head", "1. one", "2. two", "– point", "bold slant code", "said", "sign one two"):
        assert part in text
    assert not re.search(r"[#*`|]", text.replace(CAUTION, ""))


def test_raw_html_stays_text() -> None:
    """Nothing in a note is taken for a command of the page, whatever it looks like."""
    text = words('<b>x</b> <font size="99">y</font> & &lt; <para/> <img src="/etc/passwd"/>')
    assert '<b>x</b> <font size="99">y</font> & < <para/> <img src="/etc/passwd"/>' in text


def test_a_heading_that_repeats_the_title_is_left_out() -> None:
    """The title stands once."""
    assert words("# A Title\n\nA fact.").count("itle") == 1


def test_a_title_breaks_before_its_box() -> None:
    """One that fills a column to its edge takes two lines: the box stands beside the first."""
    fonts.register()
    size, text = style("title").fontSize, "iii iii"
    while fonts.width(text, size, bold=True) < COLUMN - BOX:
        text = f"i{text}"
    _, height = Ticked(text, style("title")).wrap(COLUMN, 1000)
    assert height == 2 * style("title").leading


def test_links_are_text_with_the_number_of_a_printed_note() -> None:
    """Paper says where a note is printed; an address is written out."""
    one = leaf("See [the other](two.md) and [out](https://example.org/a%20b).", "One")
    text = " ".join(pages(printed(one, leaf(title="Two"))))
    assert "See the other (→ 2) and out (https://example.org/a b)." in text


def test_a_picture_beside_the_note_is_printed() -> None:
    """It is in the file, no wider than its column."""
    shown = leaf("![a curve](c.png)", pictures={"nephrology/c.png": png(900, 90)})
    page = PdfReader(BytesIO(printed(shown).raw)).pages[0]
    assert len(page.images) == 1
    assert "a curve" in page.extract_text()


@pytest.mark.parametrize("raw", [b"", b"no picture", png(8, 8)[:45]])
def test_a_picture_that_cannot_be_read_is_named(raw: bytes) -> None:
    """A damaged file costs its picture, not the print."""
    damaged = leaf("![a curve](c.png)", pictures={"nephrology/c.png": raw})
    assert "[a curve: not an image that can be printed]" in " ".join(pages(printed(damaged)))


def test_a_note_is_never_split_between_columns_where_a_column_holds_it() -> None:
    """Reading is not interrupted: title and last words stand on one page side."""
    notes = [leaf(f"begin{n} " + "word " * 150 + f"end{n}", f"Note {n}") for n in range(9)]
    for page in PdfReader(BytesIO(printed(*notes).raw)).pages:
        places = marked_places(page)
        for number in {mark[-1] for mark in places}:
            assert abs(places[f"begin{number}"] - places[f"end{number}"]) < HALF_A_PAGE


def test_a_long_note_goes_on_in_the_next_column_with_every_word() -> None:
    """A note longer than a page is printed whole."""
    body = "\n\n".join(f"w{n} " * 40 for n in range(40))
    text = " ".join(pages(printed(leaf(body))))
    assert [len(re.findall(rf"\bw{n}\b", text)) for n in range(40)] == [40] * 40


@pytest.mark.parametrize(
    "body",
    [
        "x" * 3000,
        "| " + "h" * 200 + " | b |\n| --- | --- |\n| " + "y" * 700 + " | z |\n",
        "| a |\n| --- |\n" + "| " + "word " * 700 + "|\n",
        "|" + " head |" * 30 + "\n|" + " --- |" * 30 + "\n" + ("|" + " cell |" * 30 + "\n") * 3,
        "```\n" + "z" * 900 + "\n" + "q\n" * 100 + "```\n",
        "".join("  " * n + f"- deep{n}\n" for n in range(40)),
        "".join("> " * n + f"deep{n}\n\n" for n in range(1, 30)),
        "> " + "word " * 700,
        "- " + "word " * 700,
    ],
    ids="word table-word table-cell many-columns code lists quotes quote item".split(),  # noqa: SIM905
)
def test_what_is_too_wide_or_too_tall_is_printed_to_its_end(body: str) -> None:
    """Long words, wide tables, tall cells and deep lists break; their letters all arrive."""
    wanted = re.sub(r"[^a-z0-9]", "", body)
    text = "".join(pages(printed(leaf(body, evidence="", basis="", questions=()))))
    for sign in set(wanted):
        assert text.count(sign) >= wanted.count(sign)


MARKS = st.text(st.sampled_from(list("ab1\n #*_-`>|[]()!<&:.\t~α→")), max_size=120)


def test_no_word_of_a_table_is_broken() -> None:
    """A table too wide for its column is written out, each cell behind its heading."""
    heads = ("", "sign", "titre", "biopsy", "treatment", "relapse")
    cells = (
        "glomerulonephritis",
        "haematuria",
        "antineutrophil",
        "crescents",
        "rituximab",
        "often",
    )
    rows = (heads, ("---",) * 6, cells)
    text = words("\n".join(f"| {' | '.join(row)} |" for row in rows))
    assert "glomerulonephritis; sign haematuria; titre antineutrophil; biopsy crescents" in text


@settings(max_examples=40)
@given(st.one_of(MARKS, st.text(max_size=80)))
def test_any_text_at_all_is_printed(body: str) -> None:
    """No note, however odd, stops a print."""
    assert printed(leaf(body, title=body[:40] or "t")).page_count >= 1


def test_areas_head_their_notes() -> None:
    """Notes of several areas are grouped, and each area is named once."""
    notes = (
        leaf(title="One"),
        leaf(title="Two"),
        leaf(title="Three", area=AreaId("neurology"), area_name="Neurology"),
    )
    text = pages(printed(*notes, by_area=True))[0]
    assert text.count("Nephrology") == 1
    assert text.index("Nephrology") < text.index("1 One") < text.index("Neurology 3 Three")


def test_lines_to_write_on_take_room() -> None:
    """Asked for, each note is followed by empty lines."""
    notes = [leaf(title=f"Note {n}") for n in range(20)]
    assert write_pdf(handout(*notes), 5).page_count > write_pdf(handout(*notes)).page_count
