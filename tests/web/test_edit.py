"""Editing a note on the page, and marking it as read."""

from __future__ import annotations

from html import unescape
from typing import TYPE_CHECKING

import pytest

from kb.core.errors import ConflictError

if TYPE_CHECKING:
    from collections.abc import Callable

    from web_client import Answer, Browser

PATH = "nephrology/potassium.md"
NOTE = """\
---
title: Order of ECG changes
area: nephrology   # the kidneys
mine: kept as it is
questions: [north:141]
written: 2027-01-02T10:00+00:00
---
Tall T waves come first.
"""
FILES = {PATH: NOTE}
ADDRESS = f"/note/{PATH}"
EDIT = f"{ADDRESS}/edit"


@pytest.fixture
def page(browser: Callable[..., Browser]) -> Browser:
    """A base with one note."""
    return browser(FILES)


def text_of(page: Browser) -> str:
    """The note's file as it is on the disk."""
    return (page.root / PATH).read_bytes().decode()


def field(answer: Answer) -> str:
    """What stands in the field, as a browser reads it: a line break at its start does not count."""
    inner = answer.html.split('<textarea id="text"', 1)[1].split(">", 1)[1].split("</textarea>")[0]
    return unescape(inner).removeprefix("\n")


def digest(answer: Answer) -> str:
    """What the form says of the file it was made from."""
    return str(next(e["value"] for e in answer.elements.all("input") if e.get("name") == "digest"))


def save(page: Browser, text: str, form: Answer | None = None, **fields: str) -> Answer:
    """Send the form as a browser does, with its own line ends."""
    form = form or page.get(EDIT)
    sent = {"text": text.replace("\n", "\r\n"), "digest": digest(form), **fields}
    return page.post(EDIT, sent)


def test_the_whole_file_can_be_edited(page: Browser) -> None:
    """The field holds every character of it, front matter included."""
    assert field(page.get(EDIT)) == NOTE


def test_a_file_that_begins_with_an_empty_line_keeps_it(browser: Callable[..., Browser]) -> None:
    """The line break that HTML leaves out at the start of a field is not taken from the file."""
    assert field(browser({PATH: "\n\nTall T waves.\n"}).get(EDIT)) == "\n\nTall T waves.\n"


def test_a_changed_text_is_saved_and_stamped(page: Browser) -> None:
    """Only what was edited changes, and `written` becomes this moment as after a rewrite."""
    new = NOTE.replace("come first", "come first, and narrow")
    answer = save(page, new)
    assert answer.goes_to == f"{ADDRESS}#done"
    assert text_of(page) == new.replace("2027-01-02T10:00+00:00", "2027-02-14T12:00+00:00")
    assert "Saved; untested until its questions are tried again." in page.get(ADDRESS).words


def test_a_small_correction_is_not_stamped(page: Browser) -> None:
    """A note whose spelling was mended is judged as before when the person says so."""
    new = NOTE.replace("Tall", "Peaked")
    save(page, new, small="yes")
    assert text_of(page) == new


def test_front_matter_alone_is_no_rewriting(page: Browser) -> None:
    """A question or basis added does not make the note new."""
    new = NOTE.replace("[north:141]", "[north:141, north:150]")
    save(page, new)
    assert text_of(page) == new


def test_a_stamp_typed_by_hand_stays(page: Browser) -> None:
    """Who changes `written` means it."""
    new = NOTE.replace("Tall", "Peaked").replace("2027-01-02T10:00+00:00", "2027-02-01")
    save(page, new)
    assert text_of(page) == new


@pytest.mark.parametrize("extra", [{}, {"preview": "1"}], ids=["saved", "looked at"])
def test_a_day_still_to_come_is_refused_with_its_line(page: Browser, extra: dict[str, str]) -> None:
    """A note written tomorrow would be gone until then."""
    typed = NOTE.replace("2027-01-02", "2072-01-02")
    answer = save(page, typed, **extra)
    assert answer.status == 400
    assert "Line 6: written 2072-01-02 is in the future" in answer.html
    assert field(answer) == typed
    assert text_of(page) == NOTE


def test_saving_without_a_change_changes_nothing(page: Browser) -> None:
    """Not one byte, and it is said."""
    save(page, NOTE)
    assert text_of(page) == NOTE
    assert "Nothing was changed." in page.get(ADDRESS).words


def test_line_ends_of_the_file_are_kept(browser: Callable[..., Browser]) -> None:
    """A file from another system keeps its line ends, and its byte-order mark."""
    old = "\ufeff" + NOTE.replace("\n", "\r\n")
    page = browser({PATH: old})
    assert field(page.get(EDIT)).startswith("---")
    save(page, NOTE.replace("Tall", "Peaked"), small="yes")
    assert text_of(page) == old.replace("Tall", "Peaked")


def test_a_preview_saves_nothing(page: Browser) -> None:
    """The text is shown as it will be read, with what it links to; the field stays as it is."""
    new = NOTE + "\nThen the *P wave* goes. [x](potassium.md)\n"
    answer = save(page, new, preview="yes")
    assert "<em>P wave</em>" in answer.html
    assert f'href="{ADDRESS}"' in answer.html
    assert field(answer) == new
    assert text_of(page) == NOTE


def test_a_preview_is_harmless(page: Browser) -> None:
    """Raw HTML and scripts in the text are shown as text, in the preview and in the field."""
    evil = NOTE + "\n<script>alert(1)</script> [x](javascript:alert(1))</textarea><img src=x>\n"
    answer = save(page, evil, preview="yes")
    assert "<script>alert" not in answer.html
    assert "<img" not in answer.html
    assert not any("javascript:" in str(e.get("href")) for e in answer.elements.all("a"))


def test_a_file_that_changed_meanwhile_is_not_written_over(page: Browser) -> None:
    """Both versions are shown with what differs, and what was typed stays in the field."""
    form = page.get(EDIT)
    other = NOTE.replace("Tall", "Narrow")
    (page.root / PATH).write_text(other)
    mine = NOTE.replace("Tall", "Peaked")
    answer = save(page, mine, form)
    assert answer.status == 409
    assert text_of(page) == other
    assert field(answer) == mine
    assert "Narrow T waves come first." in answer.elements.texts("del")
    assert "Peaked T waves come first." in answer.elements.texts("ins")
    assert "Narrow" in answer.elements.texts("pre")[0]


def test_it_can_be_written_over_deliberately(page: Browser) -> None:
    """A second press, with both versions seen, saves one's own."""
    form = page.get(EDIT)
    (page.root / PATH).write_text(NOTE.replace("Tall", "Narrow"))
    mine = NOTE.replace("Tall", "Peaked")
    answer = save(page, mine, form)
    assert "Save mine over the file" in answer.elements.texts("button")
    assert save(page, mine, answer, small="yes").status == 303
    assert text_of(page) == mine


def test_a_third_change_is_seen_too(page: Browser) -> None:
    """Between the two presses the file may change again: that is refused again."""
    form = page.get(EDIT)
    (page.root / PATH).write_text(NOTE.replace("Tall", "Narrow"))
    answer = save(page, NOTE.replace("Tall", "Peaked"), form)
    (page.root / PATH).write_text(NOTE.replace("Tall", "Pointed"))
    assert save(page, NOTE.replace("Tall", "Peaked"), answer).status == 409
    assert "Pointed" in text_of(page)


def test_the_same_change_by_two_hands_is_no_conflict(page: Browser) -> None:
    """As when the answer to a saving was lost and the form is sent again."""
    form = page.get(EDIT)
    mine = NOTE.replace("Tall", "Peaked")
    save(page, mine, form, small="yes")
    assert save(page, mine, form, small="yes").status == 303
    assert text_of(page) == mine


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("title: Order", "title: [Order", "Line 2"),
        ("area: nephrology   # the kidneys", "area nephrology", "Line "),
        ("questions: [north:141]", "questions: [north]", "Line 5"),
        ("written: 2027-01-02T10:00+00:00", "written: soon", "Line 6"),
        ("---\nTall", "Tall", "Line 1"),
    ],
)
def test_bad_front_matter_is_refused_with_its_line(
    page: Browser, old: str, new: str, place: str
) -> None:
    """One sentence with the line; nothing is saved, and the text stays in the field."""
    assert old in NOTE
    bad = NOTE.replace(old, new)
    answer = save(page, bad)
    assert answer.status == 400
    assert place in answer.words
    assert "Nothing was saved." in answer.words
    assert field(answer) == bad
    assert text_of(page) == NOTE


def test_a_note_is_not_emptied(page: Browser) -> None:
    """Front matter without a text is no note."""
    answer = save(page, NOTE.replace("Tall T waves come first.\n", ""))
    assert answer.status == 400
    assert text_of(page) == NOTE


def test_what_looks_like_a_patient_is_asked_about(page: Browser) -> None:
    """Nothing is saved before the person says that it identifies nobody."""
    new = NOTE + "\nSeen in 401 023 2137.\n"
    answer = save(page, new)
    assert "This looks like an NHS number" in answer.words
    assert field(answer) == new
    assert text_of(page) == NOTE
    save(page, new, confirmed="yes", small="yes")
    assert text_of(page) == new


def test_a_note_that_is_gone_gives_the_text_back(page: Browser) -> None:
    """When the file was removed meanwhile, what was typed can be copied."""
    form = page.get(EDIT)
    (page.root / PATH).unlink()
    answer = save(page, NOTE + "Mine.\n", form)
    assert answer.status == 404
    assert field(answer) == NOTE + "Mine.\n"


@pytest.mark.parametrize(
    "address",
    [
        "/note/exam.yaml/edit",
        "/note/../exam.yaml/edit",
        "/note/%2e%2e/exam.yaml/edit",
        "/note/none/edit",
    ],
)
def test_only_notes_are_edited(page: Browser, address: str) -> None:
    """Settings, logs and files outside the base have no such page, and nothing writes to them."""
    assert page.get(address).status == 404
    before = (page.root / "exam.yaml").read_text()
    assert page.post(address, {"text": "x", "digest": ""}).status in (404, 405)
    assert (page.root / "exam.yaml").read_text() == before


def test_a_title_leads_to_the_file(page: Browser) -> None:
    """A note is edited at the address of its file, whatever name it was asked by."""
    assert page.get("/note/potassium/edit").goes_to == EDIT


def readings(page: Browser) -> list[str]:
    """Lines of the list of readings."""
    path = page.root / "log/readings-test.csv"
    return path.read_text().splitlines()[1:] if path.exists() else []


def test_a_note_is_marked_as_read(page: Browser) -> None:
    """Without scripts too; no time is claimed, and the page says that it is done."""
    answer = page.post("/read/mark", {"note": PATH, "back": f"{ADDRESS}#done"})
    assert answer.goes_to == f"{ADDRESS}#done"
    assert [line.split(",")[1:] for line in readings(page)] == [
        ["2027-02-14T12:00:00+00:00", "potassium", ""]
    ]
    assert "Marked as read." in page.get(ADDRESS).words


def test_another_process_that_writes_is_no_conflict(
    page: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file is as it was read, so it is not said to have changed; the text stays."""

    def busy(*_: object, **__: object) -> None:
        raise ConflictError("the base is locked", hint="try again when it is done")

    form = page.get(EDIT)
    monkeypatch.setattr("kb.storage.base_folder.edit_file", busy)
    answer = save(page, NOTE.replace("Tall", "Peaked"), form)
    assert answer.status == 409
    assert "The base is locked. Try again when it is done. Nothing was saved." in answer.words
    assert "The file changed" not in answer.words
    assert "Peaked" in field(answer)


def test_a_conflict_shows_some_of_very_many_lines(page: Browser) -> None:
    """Two texts that have nothing in common do not become a page without end."""
    form = page.get(EDIT)
    (page.root / PATH).write_text(NOTE.replace("Tall", "Narrow"))
    answer = save(page, NOTE + "".join(f"{number}\n" for number in range(700)), form)
    assert answer.status == 409
    assert len(answer.elements.all("ins")) < 600
    assert "more lines." in answer.words
