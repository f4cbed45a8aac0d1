"""A miss and its note on the page: what may cover it, linking, writing, setting aside."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from kb.core.ids import REASONS
from kb.services.note_editing import add_note
from kb.services.session import Session

if TYPE_CHECKING:
    from collections.abc import Callable

    from web_client import Browser

HEADER = (
    "id,at,question,area,concept,outcome,first,chosen,key,certainty,seconds,reason,round,sitting,"
    "batch,voids,remark\n"
)
LOG = (
    HEADER
    + "a1,2027-02-10T08:00:00+00:00,north:141,,,wrong,,C,B,,,two-left,,,b-1,,"
    + "membranous or minimal change\n"
    + "a2,2027-02-10T08:01:00+00:00,paper-1:9,,,wrong,,,,,,unknown,,,b-1,,\n"
)
MEMBRANOUS = """\
---
title: Membranous or minimal change
area: nephrology
concepts: [nephrotic syndrome]
questions: []
---
Membranous nephropathy in adults, minimal change in children: proteinuria and low albumin in both.
"""
FIBRILLATION = """\
---
title: Atrial fibrillation
area: cardiology
---
An irregular pulse without P waves.
"""
FILES = {
    "log/attempts-old.csv": LOG,
    "nephrology/membranous.md": MEMBRANOUS,
    "cardiology/fibrillation.md": FIBRILLATION,
}
NUMBER = "401 023 2137"
"""Passes the check of an NHS number; a made-up one, published as such for tests."""
JSON = {"Accept": "application/json"}


@pytest.fixture
def page(browser: Callable[..., Browser]) -> Browser:
    """A base with two open misses and two notes."""
    return browser(FILES)


def notes(page: Browser) -> dict[str, str]:
    """Every note by its path."""
    return {
        path.relative_to(page.root).as_posix(): path.read_text(encoding="utf-8")
        for path in sorted(page.root.glob("*/*.md"))
    }


def links_of(page: Browser, address: str) -> set[str]:
    """Where the links of a screen lead."""
    return {str(link.get("href")) for link in page.get(address).elements.all("a")}


def test_open_misses_are_listed_with_their_worth(page: Browser) -> None:
    """Each row leads to the form of its note; before thirty answers none is given in marks."""
    answer = page.get("/log/misses")
    links = [e["href"] for e in answer.elements.all("a") if "/log/miss/" in str(e.get("href"))]
    assert set(links) == {"/log/miss/north:141", "/log/miss/paper-1:9"}
    assert answer.elements.texts("h1")[0].startswith("2 misses without a note")
    assert "worth" not in answer.elements.texts("h1")[0]


def test_many_misses_come_in_pages(browser: Callable[..., Browser]) -> None:
    """Above forty, a sentence on the first twenty comes first; the list still follows."""
    rows = [
        f"a{at},2027-01-04T09:{at:02}:00+00:00,north:{300 + at},,,wrong,,,,,,,,,b-1,,\n"
        for at in range(45)
    ]
    page = browser({"log/attempts-phone.csv": HEADER + "".join(rows)})
    listed = [link for link in links_of(page, "/log/misses") if "/log/miss/" in link]
    assert len(listed) == 10
    assert "/log/misses?page=2" in links_of(page, "/log/misses")
    further = [link for link in links_of(page, "/log/misses?page=2") if "/log/miss/" in link]
    assert len(further) == 10
    assert not set(listed) & set(further)


def test_a_remark_that_names_two_leads_to_both_sides(page: Browser) -> None:
    """What is to be told apart can be read first."""
    assert "/compare?one=membranous&other=minimal+change" in links_of(page, "/log/miss/north:141")
    assert not [to for to in links_of(page, "/log/miss/paper-1:9") if "/compare" in to]


def test_the_area_of_a_miss_is_called_by_its_name(page: Browser) -> None:
    """Beside the heading, and beside the notes that may cover it."""
    words = page.get("/log/miss/north:141").words
    assert "Nephrology" in words.partition("What will you remember")[0]
    assert "Membranous or minimal change Nephrology" in words


def test_a_miss_shows_what_may_cover_it(page: Browser) -> None:
    """Notes near the remark are named with the line that matches, before anything is typed."""
    answer = page.get("/log/miss/north:141")
    assert "membranous or minimal change" in answer.words
    assert "Membranous nephropathy in adults" in answer.words
    offered = [b["value"] for b in answer.elements.all("button") if b.get("name") == "note"]
    assert offered == ["nephrology/membranous.md", ""]  # the last is the pattern of a row


def test_the_list_follows_what_is_typed(page: Browser) -> None:
    """For the text as it stands the nearest notes, the area and the base's concepts are told."""
    typed = {"body": "nephrotic syndrome: membranous in adults, minimal change in children"}
    found = page.post("/log/miss/paper-1:9/near", typed, JSON).json
    assert found["near"][0]["path"] == "nephrology/membranous.md"
    assert found["area"] == "nephrology"
    assert found["concepts"] == "nephrotic syndrome"


def test_without_scripts_the_list_comes_by_a_button(page: Browser) -> None:
    """The form comes back with the notes, and with all that was typed in it."""
    answer = page.post("/log/miss/paper-1:9/near", {"body": "irregular pulse", "basis": "a book"})
    assert answer.status == 200
    assert "irregular pulse" in answer.elements.texts("textarea")
    assert "Atrial fibrillation" in answer.words
    assert 'value="a book"' in answer.html


def test_one_touch_links_a_note(page: Browser) -> None:
    """The question goes into the note's front matter, and the miss is no longer open."""
    answer = page.post("/log/miss/north:141/link", {"note": "nephrology/membranous.md"})
    assert answer.goes_to == "/log/misses"
    assert "questions: [north:141]" in notes(page)["nephrology/membranous.md"]
    told = page.get("/log/misses")
    assert "Membranous or minimal change answers north:141." in told.words
    assert told.elements.texts("h1")[0].startswith("1 miss without")


def test_a_new_note_is_written(page: Browser) -> None:
    """Text, title, area, concepts and basis become a note linked to the question."""
    fields = {
        "body": "Fluid first.\r\nThen insulin.",
        "title": "Ketoacidosis, in order",
        "area": "nephrology",
        "concepts": "ketoacidosis, potassium",
        "basis": "physiology text, 2024 edition",
    }
    assert page.post("/log/miss/paper-1:9", fields).status == 303
    assert notes(page)["nephrology/ketoacidosis-in-order.md"] == (
        "---\ntitle: Ketoacidosis, in order\narea: nephrology\n"
        "concepts: [ketoacidosis, potassium]\nquestions: [paper-1:9]\n"
        "basis: physiology text, 2024 edition\nwritten: 2027-02-14T12:00+00:00\n---\n"
        "Fluid first.\nThen insulin.\n"
    )


def test_title_and_area_need_not_be_typed(page: Browser) -> None:
    """The first clause is the title, and the numbering tells the area."""
    page.post("/log/miss/north:141", {"body": "Adults get membranous; children do not."})
    assert "nephrology/adults-get-membranous.md" in notes(page)


def test_a_note_sent_twice_is_written_once(page: Browser) -> None:
    """When the answer was lost and the form is sent again, there is no second note."""
    fields = {"body": "Adults get membranous; children do not."}
    first = page.post("/log/miss/north:141", fields, JSON).json
    second = page.post("/log/miss/north:141", fields, JSON).json
    assert first == second
    assert len(notes(page)) == 3


def test_another_text_is_another_note(page: Browser) -> None:
    """Only the same title and text count as sent twice."""
    for body in ("Adults get membranous.", "Adults get membranous.\n\nMostly."):
        page.post("/log/miss/north:141", {"body": body})
    assert len(notes(page)) == 4


def test_an_area_that_nothing_tells_is_asked_for(page: Browser) -> None:
    """Nothing is written to a guess; what was typed stays."""
    answer = page.post("/log/miss/paper-1:9", {"body": "Zebras have stripes"})
    assert answer.status == 400
    assert "The area of paper-1:9 is not known. Choose it below." in answer.words
    assert "--area" not in answer.words
    assert "Zebras have stripes" in answer.elements.texts("textarea")
    assert len(notes(page)) == 2


def test_an_empty_note_is_not_written(page: Browser) -> None:
    """A press on the button alone writes nothing."""
    assert page.post("/log/miss/north:141", {"body": " \r\n"}).status == 400
    assert len(notes(page)) == 2


@pytest.mark.parametrize("field", ["body", "title", "basis", "concepts"])
def test_what_looks_like_a_patient_is_asked_about(page: Browser, field: str) -> None:
    """Nothing is saved before the person says that it identifies nobody; the text stays."""
    fields = {"body": "Adults get membranous.", field: f"seen in {NUMBER}"}
    answer = page.post("/log/miss/north:141", fields)
    assert "This looks like an NHS number" in answer.words
    assert NUMBER in answer.html
    assert len(notes(page)) == 2
    assert page.post("/log/miss/north:141", {**fields, "confirmed": "yes"}).status == 303
    assert len(notes(page)) == 3


def test_the_script_is_told_of_a_patient_too(page: Browser) -> None:
    """The script asks before it saves, as the plain form does."""
    told = page.post("/log/miss/north:141", {"body": f"seen in {NUMBER}"}, JSON).json
    assert told == {"warned": ["an NHS number"]}
    assert len(notes(page)) == 2


@pytest.mark.parametrize("reason", [*REASONS, "nothing"])
def test_a_miss_can_be_set_aside(page: Browser, reason: str) -> None:
    """With any reason it is off the list for good."""
    page.post("/log/miss/north:141/aside", {"reason": reason})
    told = page.get("/log/misses")
    assert "north:141 is dismissed" in told.words
    assert "/log/miss/north:141" not in told.html


def test_setting_aside_needs_a_reason(page: Browser) -> None:
    """A reason that there is not sets nothing aside."""
    assert page.post("/log/miss/north:141/aside", {"reason": "bored"}).status == 400
    assert "/log/miss/north:141" in page.get("/log/misses").html


def test_a_wrong_answer_opens_the_field(page: Browser) -> None:
    """Without scripts the form of the next answer has the field for the note under it."""
    fields = {"entry": "entry-0001", "source": "north", "item": "142", "reason": "unknown"}
    form = page.get(page.post("/log", fields).goes_to)
    assert "What will you remember of north:142?" in form.words
    assert 'action="/log/miss/north%3A142"' in form.html


def test_after_the_note_logging_goes_on(page: Browser) -> None:
    """Saving a note leads back to the number one was at."""
    back = "/log?source=north&item=143"
    answer = page.post("/log/miss/north:141", {"body": "Adults get membranous.", "back": back})
    assert answer.goes_to == back


@pytest.mark.parametrize("back", ["https://elsewhere.example/log", "//elsewhere.example", "/find"])
def test_a_form_leads_nowhere_else(page: Browser, back: str) -> None:
    """An address that is no log screen is not followed."""
    answer = page.post("/log/miss/north:141/aside", {"reason": "nothing", "back": back})
    assert answer.goes_to == "/log/misses"


def test_what_is_no_question_is_refused(page: Browser) -> None:
    """An address without a source and an item is told in one sentence."""
    answer = page.get("/log/miss/north")
    assert answer.status == 400
    assert "'north' is not a question reference" in answer.words


def test_markup_in_a_remark_or_title_is_text(browser: Callable[..., Browser]) -> None:
    """What was typed elsewhere is never part of the page."""
    evil = "<img src=x onerror=alert(1)>"
    page = browser(
        {
            "log/attempts-old.csv": LOG.replace("membranous or", f"{evil} membranous or"),
            "nephrology/membranous.md": MEMBRANOUS.replace("title: M", f"title: {evil} M"),
        }
    )
    for address in ("/log/misses", "/log/miss/north:141"):
        assert "<img" not in page.get(address).html


def test_a_note_that_is_gone_loses_nothing_typed(page: Browser) -> None:
    """When the note to link was removed meanwhile, the form stays as it was filled in."""
    fields = {"body": "irregular pulse", "basis": "a book", "note": "cardiology/gone.md"}
    answer = page.post("/log/miss/paper-1:9/link", fields)
    assert answer.status == 400
    assert "No note called" in answer.words
    assert "irregular pulse" in answer.elements.texts("textarea")
    assert 'value="a book"' in answer.html


def test_a_note_that_is_there_keeps_its_basis_and_says_so(page: Browser) -> None:
    """Sent again with another basis it is not told as written: the new basis would be lost."""
    fields = {"body": "Adults get membranous; children do not."}
    page.post("/log/miss/north:141", fields)
    answer = page.post("/log/miss/north:141", {**fields, "basis": "a book"})
    assert answer.status == 400
    assert "The note is there already, with another basis." in answer.words
    assert 'value="a book"' in answer.html


def test_a_title_is_short(page: Browser) -> None:
    """A text pasted into the field of the title is not made the name of a file."""
    fields = {"body": "Adults get membranous.", "title": "word " * 50}
    answer = page.post("/log/miss/north:141", fields)
    assert answer.status == 400
    assert "Give the note a shorter title." in answer.words
    assert len(notes(page)) == 2


def test_a_note_written_at_the_same_moment_is_one(
    page: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Sent to two servers of one base at once, it is written once, and both say so."""
    fields = {"body": "Adults get membranous; children do not."}
    ran = []

    def late(session: Session, *given: Any) -> Any:
        if not ran:
            ran.append(True)
            other = Session(session.root, now=session.now, device="other")
            add_note(other, *given)
        return add_note(session, *given)

    monkeypatch.setattr("kb.web.screens.log_miss.add_note", late)
    assert page.post("/log/miss/north:141", fields).status == 303
    assert len(notes(page)) == 3


@pytest.mark.parametrize(
    ("address", "leads_to"),
    [
        ("/log/sheet/save", "/log"),
        ("/log/import/b-1/void", "/log"),
        ("/log/miss/north:141/link", "/log/miss/north:141"),
        ("/read/mark", "/read"),
    ],
)
def test_a_refused_form_can_be_loaded_again(page: Browser, address: str, leads_to: str) -> None:
    """A phone that brings a page back asks for its address without the form."""
    assert page.get(address).goes_to == leads_to
