"""Texts made for a terminal lead on when read in a browser, and stay plain text otherwise."""

from __future__ import annotations

import pytest

from kb.presentation.report_model import Column, Entry, Table
from kb.web.links import cells, entry_right, figure, line_links, together, with_links


@pytest.mark.parametrize(
    ("text", "html"),
    [
        ("worth 1.9 marks: missbook note --next", '<a href="/log/misses">write a note</a>'),
        ("missed once: missbook note north:12", '<a href="/log/miss/north:12">write a note</a>'),
        ("None yet. To write one: missbook note", 'None yet. <a href="/log/misses">Write one</a>'),
        ("Write them now: missbook note --next", '<a href="/log/misses">Write them now</a>'),
        ("40 more: missbook queue --limit 50", '<a href="/report/queue?limit=50">show them</a>'),
        ("2 failing: missbook brief murmurs", '<a href="/report/brief?words=murmurs">'),
        ("missbook rota lists them.", '<a href="/report/rota">see the rota</a> lists them.'),
        ("(missbook draw picks them)", '<a href="/log/draw">Draw</a> picks them)'),
        ("now: missbook draw 100 --held-back.", '<a href="/log/draw?count=100">draw them</a>.'),
        ("missbook sitting --help.", '<a href="/log/paper">record a paper</a>.'),
        (
            "missbook log block north 1-40 --area renal --wrong 3,17",
            '<a href="/log/block">log a block</a>',
        ),
        ("No answer yet: missbook log", '<a href="/log">log answers</a>'),
        ("missbook forecast says more.", '<a href="/report/forecast">see the forecast</a> says'),
        (
            'both: missbook compare "DIC" "warm haemolysis"',
            '<a href="/compare?one=DIC&amp;other=warm+haemolysis">see them side by side</a>',
        ),
        ('missbook compare "DIC"', "<code>missbook compare &#34;DIC&#34;</code>"),
        ('missbook brief "raised gap"', '<a href="/report/brief?words=raised+gap">'),
        (
            "to make them one: missbook merge a-b c-d",
            '<a href="/merge?keep=a-b&amp;other=c-d">merge them</a>',
        ),
    ],
)
def test_a_command_named_in_a_text_leads_to_its_page(text: str, html: str) -> None:
    """Where the page has it there is a link; else it is shown as something to type."""
    assert html in with_links(text)


def test_an_option_of_the_report_itself_asks_for_it_again() -> None:
    """The rest of the address stays as it was asked."""
    text = "1-10 of 14. Next: missbook find low sodium --page 2"
    found = with_links(text, "find", {"words": "low sodium", "page": "1"})
    link = '<a href="/find?words=low+sodium&amp;page=2">page 2</a>'
    assert found == f"1–10 of 14. Next: {link}"


@pytest.mark.parametrize("text", ["plain words", "<script>alert(1)</script>", "a & b"])
def test_other_text_is_only_made_safe(text: str) -> None:
    """Nothing else of a text changes."""
    assert with_links(text).unescape() == text
    assert "<" not in with_links(text)


def test_what_is_to_be_copied_is_set_apart_and_made_safe() -> None:
    """A setting between backticks."""
    found = str(with_links("Set `chance_order: <yes>`."))
    assert found == "Set <code>chance_order: &lt;yes&gt;</code>."


def test_a_script_in_a_command_stays_text() -> None:
    """Words of a command come from notes, too."""
    found = with_links('missbook brief "<img src=x>" and missbook brief <b>')
    assert "<img" not in found
    assert "<b>" not in found


def test_a_link_to_be_written_can_be_copied() -> None:
    """What belongs into a note's text is set apart from the sentence around it."""
    found = line_links("both about gout. To link it, write: [A <b>](../a/b.md)", {})
    assert found == ("Both about gout. To link it, write: <code>[A &lt;b&gt;](../a/b.md)</code>")


def test_a_title_in_a_list_leads_to_its_note() -> None:
    """Topics list titles; each is a link, with its state behind it."""
    found = line_links("- Iron first (failing)", {"Iron first": ("haem/iron.md", "failing")})
    link, sign = '<a href="/note/haem/iron.md">Iron first</a>', '<span class="state failing">'
    assert found == f"{link} {sign}failing</span>"


def test_areas_beside_an_entry_have_their_names() -> None:
    """The ids that its fields tell become names; a figure is not torn from its unit."""
    entry = Entry(
        head="Needles",
        right=("joints, renal", "0.42 marks"),
        fields=(("areas", ("joints", "renal")), ("marks", 0.42)),
    )
    assert entry_right(entry, {"joints": "Rheumatology", "renal": "Nephrology"}) == [
        "Rheumatology, Nephrology",
        "0.42\u00a0marks",
    ]


def test_a_line_begins_with_a_capital() -> None:
    """What follows a head in the terminal is a sentence of its own on the page."""
    assert line_links("  missed once & again", {}) == "Missed once &amp; again"


@pytest.mark.parametrize(
    ("text", "printed"),
    [
        ("likely 66-82%", "likely 66\N{EN DASH}82%"),
        ("-11 (may be chance)", "\N{MINUS SIGN}11 (may be chance)"),
        ("from -2 to +3", "from \N{MINUS SIGN}2 to +3"),
        ("+ 0.028 misjudged, - 0.067 told", "+ 0.028 misjudged, \N{MINUS SIGN} 0.067 told"),
        ("36-71 s", "36\N{EN DASH}71 s"),
        ("pass mark 61%, +/-2", "pass mark 61%, \N{PLUS-MINUS SIGN}2"),
        ("last tried 25 Mar.", "last tried 25\u00a0Mar."),
        ("on 6 Apr 2027, not 6 Marches", "on 6\u00a0Apr 2027, not 6 Marches"),
        ("missbook log block north 1-40", "missbook log block north 1-40"),
        ("north:3-5, 2027-05-11, one-way", "north:3-5, 2027-05-11, one-way"),
    ],
)
def test_ranges_and_minus_signs_are_printed_as_such(text: str, printed: str) -> None:
    """But what may be typed or is a date stays as it is."""
    assert together(text) == printed


def test_a_range_of_scores_has_an_en_dash_where_it_is_alone() -> None:
    """In a table and among single figures."""
    columns = (Column(key="range", label="Likely"),)
    assert cells(Table(key="t", columns=columns, rows=(("122-152",), ("5 of 9",)))) == (
        ("122\N{EN DASH}152",),
        ("5 of 9",),
    )
    assert figure("99-104", "text") == "99\N{EN DASH}104"
