"""Reading in one flow: whole notes one below the other, each marked as read by one press."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from web_client import ADDRESS, Answer, Browser

if TYPE_CHECKING:
    from collections.abc import Callable

NOTE = """\
---
title: {title}
area: nephrology
questions: [north:{number}]
written: 2027-01-02
---
{body}
"""
FILES = {
    "nephrology/one.md": NOTE.format(title="First note", number=41, body="Tall T waves first."),
    "nephrology/two.md": NOTE.format(title="Second note", number=42, body="Then wide QRS."),
    "study.yaml": "sources:\n  - {source: north, name: North bank, kind: bank}\n",
    "log/attempts-a.csv": "id,at,question,outcome\n"
    "0123456789abcdef,2027-01-10T20:00:00+00:00,north:41,wrong\n"
    "0123456789abcde0,2027-01-10T20:01:00+00:00,north:42,wrong\n",
}


@pytest.fixture
def page(browser: Callable[..., Browser]) -> Browser:
    """Two notes that fail."""
    return browser(FILES)


def readings(page: Browser) -> list[str]:
    """The notes of every reading recorded."""
    path = page.root / "log" / "readings-test.csv"
    return [line.split(",")[2] for line in path.read_text().splitlines()[1:]]


def test_a_list_is_one_scroll_of_whole_notes(page: Browser) -> None:
    """Each note has its place in the list, its state and all of its text."""
    answer = page.get("/read/work")
    assert [text for text in answer.elements.texts("p") if " of 2" in text] == ["1 of 2", "2 of 2"]
    assert "Tall T waves first." in answer.words
    assert "Then wide QRS." in answer.words
    assert answer.words.count("failing") >= 2


def test_one_press_marks_a_note_and_leads_to_the_next(page: Browser) -> None:
    """Without scripts too: the form comes back at the second note."""
    form = page.get("/read/work").elements.all("input")
    fields = {str(e["name"]): str(e["value"]) for e in form[1:3]}
    answer = page.post("/read/mark", fields)
    assert (answer.status, answer.goes_to) == (303, "/read/work#note-2")
    assert len(readings(page)) == 1


def test_a_reading_that_waited_counts_once(page: Browser) -> None:
    """Sent twice by a lost connection, it is one reading, at the moment it was made."""
    entry = {"entry": "0" * 32, "read": "nephrology/one.md", "seconds": "42.5"}
    entry["at"] = "2027-02-14T09:00:00+00:00"
    for _ in range(2):
        sent = page.client.post(
            "/log/queue",
            base_url=ADDRESS,
            json={"entries": [entry]},
            headers={"Origin": ADDRESS, "X-Token": page.token(), "Accept": "application/json"},
        )
        assert Answer(sent).json["answers"] == [{"entry": "0" * 32, "saved": True}]
    assert readings(page) == ["one"]


@pytest.mark.parametrize("seconds", ["-1", "soon", "nan", "inf", "90000"])
def test_a_time_that_cannot_be_is_refused(page: Browser, seconds: str) -> None:
    """Nothing is recorded."""
    entry = {"entry": "0" * 32, "read": "nephrology/one.md", "seconds": seconds}
    sent = page.client.post(
        "/log/queue",
        base_url=ADDRESS,
        json={"entries": [entry]},
        headers={"Origin": ADDRESS, "X-Token": page.token(), "Accept": "application/json"},
    )
    assert Answer(sent).json["answers"][0]["saved"] is False
    assert not (page.root / "log" / "readings-test.csv").exists()


def test_a_rewrite_leads_back_to_the_place_in_the_list(page: Browser) -> None:
    """After saving one goes on reading where one was; an address elsewhere is not followed."""
    back = "/read/work#note-2"
    form = page.get("/note/nephrology/two.md/edit?back=%2Fread%2Fwork%23note-2")
    fields = {str(e["name"]): str(e["value"]) for e in form.elements.all("input") if "value" in e}
    text = FILES["nephrology/two.md"] + "More.\n"
    assert fields["back"] == back
    sent = {"digest": fields["digest"], "text": text, "back": back}
    assert page.post("/note/nephrology/two.md/edit", sent).goes_to == back
    assert "evil" not in page.get("/note/nephrology/two.md/edit?back=//evil.example").html


@pytest.mark.parametrize(
    ("address", "status", "said"),
    [
        ("/read/nothing", 404, "No reading list called 'nothing'"),
        ("/read/brief?minutes=abc", 400, "Minutes must be a number, such as 20; you typed 'abc'"),
    ],
)
def test_what_is_no_list_is_said(page: Browser, address: str, status: int, said: str) -> None:
    """One sentence, with what to do."""
    answer = page.get(address)
    assert (answer.status, said in answer.words) == (status, True)


def test_nothing_due_is_said(browser: Callable[..., Browser]) -> None:
    """An empty list is a sentence and the way back."""
    assert "Nothing is due." in browser({}).get("/read/tonight").words
    for words in ("", "nephrology"):
        answer = browser({}).get(f"/read/brief?words={words}&minutes=20")
        assert (answer.status, "carries marks at risk" in answer.words) == (200, True)
    assert browser({}).get("/read/brief?words=nephrologie").status == 404
