"""Two diagnoses side by side on the page, and the one note that compares them."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote_plus

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from web_client import Browser

HEADER = (
    "id,at,question,area,concept,outcome,first,chosen,key,certainty,seconds,reason,round,sitting,"
    "batch,voids,remark\n"
)
LOG = (
    HEADER
    + "a1,2027-02-10T08:00:00+00:00,north:141,,,wrong,,C,B,,,two-left,,,b-1,,gout vs pseudogout\n"
    + "a2,2027-02-11T08:00:00+00:00,north:142,,,wrong,,C,B,,,two-left,,,b-1,,pseudogout vs gout\n"
)
GOUT = """\
---
title: Needles
area: nephrology
concepts: [gout]
---
Negatively birefringent; see [the other](rhomboids.md).
"""
PSEUDOGOUT = """\
---
title: Rhomboids
area: nephrology
concepts: [pseudogout]
---
Weakly positive <b>crystals</b>.
"""
FILES = {
    "log/attempts-old.csv": LOG,
    "nephrology/needles.md": GOUT,
    "nephrology/rhomboids.md": PSEUDOGOUT,
}
PAIR = "one=gout&other=pseudogout"
ADDRESS = "/note/nephrology/gout-or-pseudogout.md"
FIELDS = {"one": "gout", "other": "pseudogout", "apart": "Look at the crystals.", "text": ""}
NUMBER = "401 023 2137"
"""Passes the check of an NHS number; a made-up one, published as such for tests."""


@pytest.fixture
def page(browser: Callable[..., Browser]) -> Browser:
    """A base with one pair mixed up twice, and a note on each of the two."""
    return browser(FILES)


def links(page: Browser, address: str) -> set[str]:
    """Where the links of a screen lead."""
    return {str(link.get("href")) for link in page.get(address).elements.all("a")}


def test_a_mixup_without_a_note_leads_to_both_sides(page: Browser) -> None:
    """One touch, from its name as from its sentence; nothing is left to be typed."""
    answer = page.get("/report/mixups")
    assert f"/compare?{PAIR}" in links(page, "/report/mixups")
    assert "missbook" not in answer.words.partition("Revision notes")[0].partition("More")[2]


def test_both_sides_are_shown_before_anything_is_written(page: Browser) -> None:
    """What the notes say of each, how often they were mixed up, and the way to the second step."""
    answer = page.get(f"/compare?{PAIR}")
    assert answer.elements.texts("h1") == ["Gout or pseudogout?"]
    assert answer.elements.texts("h2") == ["Gout", "Pseudogout"]
    assert "Mixed up twice, last on 11 Feb. No note compares them yet." in answer.words
    assert "Negatively birefringent" in answer.words
    assert "<b>crystals" not in answer.html
    assert {f"/compare/note?{PAIR}", "/note/nephrology/needles.md"} <= links(
        page, f"/compare?{PAIR}"
    )
    assert len(list(page.root.glob("nephrology/*.md"))) == 2


def test_a_note_on_both_stands_once(browser: Callable[..., Browser]) -> None:
    """Found for each of the two by its words, it is no different on the other side."""
    both = (
        "---\ntitle: Crystals\narea: nephrology\n---\nNeedles in gout, rhomboids in pseudogout.\n"
    )
    answer = browser({"nephrology/crystals.md": both}).get(f"/compare?{PAIR}")
    assert answer.words.count("Needles in gout") == 1
    assert answer.elements.texts("h2")[0] == "On both"


def test_the_note_is_written_on_the_second_step(page: Browser) -> None:
    """It holds the sides and what tells them apart, and answers both questions."""
    form = page.get(f"/compare/note?{PAIR}").elements
    assert [o["value"] for o in form.all("option") if "selected" in o] == ["nephrology"]
    text = form.texts("textarea")[1]
    assert "## gout" in text
    answer = page.post("/compare/note", {**FIELDS, "text": text, "basis": "a textbook"})
    assert (answer.status, answer.goes_to) == (303, f"{ADDRESS}#done")
    written = (page.root / "nephrology/gout-or-pseudogout.md").read_text(encoding="utf-8")
    assert "[north:141, north:142]" in written
    assert written.endswith("What tells them apart in a stem: Look at the crystals.\n")
    shown = page.get(ADDRESS)
    assert "Written; it answers 2 questions." in shown.words
    assert "/note/nephrology/rhomboids.md" in links(page, f"{ADDRESS}/near")


def test_a_heading_without_text_is_not_kept(page: Browser) -> None:
    """A side of which no note says anything leaves no trace in the new note."""
    page.post("/compare/note", {**FIELDS, "text": "## gout\nNeedles.\n\n## pseudogout\n\n"})
    written = (page.root / "nephrology/gout-or-pseudogout.md").read_text(encoding="utf-8")
    assert "## gout\nNeedles." in written
    assert "## pseudogout" not in written


def test_a_pair_compared_already_leads_to_its_note(page: Browser) -> None:
    """However often the form is sent and whichever name stands first, there is one note."""
    for _ in range(2):
        assert page.post("/compare/note", FIELDS).status == 303
    for address in ("/compare?one=Pseudogout&other=gout", f"/compare/note?{PAIR}"):
        answer = page.get(address)
        assert (answer.status, answer.goes_to) == (303, ADDRESS)
    assert "/note/gout-or-pseudogout" in links(page, "/report/mixups")
    assert len(list(page.root.glob("nephrology/gout*.md"))) == 1


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"apart": " "}, "What tells them apart is still empty."),
        ({"one": "gout", "other": "lupus"}, "The area of this note is not known. Choose it below."),
        ({"area": "nowhere"}, "No area called 'nowhere'"),
    ],
)
def test_what_cannot_be_written_stays_in_the_form(
    page: Browser, changed: dict[str, str], said: str
) -> None:
    """One sentence says what is lacking, and nothing that was typed is lost."""
    answer = page.post("/compare/note", {**FIELDS, "text": "Kept.", **changed})
    assert (answer.status, said in answer.words) == (400, True)
    assert "Kept." in answer.elements.texts("textarea")[1]
    assert len(list(page.root.glob("nephrology/*.md"))) == 2


def test_what_looks_like_a_patients_is_asked_about(page: Browser) -> None:
    """Nothing is written until it is said to be nobody's."""
    fields = {**FIELDS, "text": f"Seen in {NUMBER}."}
    assert "This does not identify a patient" in page.post("/compare/note", fields).words
    assert page.post("/compare/note", {**fields, "confirmed": "yes"}).status == 303


@pytest.mark.parametrize(
    ("one", "other", "status", "said"),
    [
        ("", "", 200, "Compare two"),
        ("gout", "", 200, "Compare two"),
        ("gout", "Gout", 400, "are the same"),
        ('"><script>', "gout", 200, "No note mentions it."),
    ],
)
def test_any_two_words_may_be_asked_for(
    page: Browser, one: str, other: str, status: int, said: str
) -> None:
    """Without two of them the page asks; what was typed is only ever text."""
    answer = page.get(f"/compare?one={quote_plus(one)}&other={quote_plus(other)}")
    assert (answer.status, said in answer.words) == (status, True)
    assert "<script>" not in answer.html
