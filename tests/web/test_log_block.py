"""A block and a pasted answer sheet on the page: the same as from the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from kb.core.errors import KBError
from kb.formats.answer_sheet.outcome_words import table
from kb.services.session import Session
from kb.storage import attempt_store

if TYPE_CHECKING:
    from collections.abc import Callable

    from web_client import Answer, Browser

SHEET = """\
13 Feb north
143 x C>B membranous vs minimal change
144
what is this
150-152 ?
"""


def outcomes(page: Browser) -> dict[str, str]:
    """The answers that count."""
    desk = page.app.extensions["missbook"]
    session = Session(page.root, now=desk.clock(), device="look")
    return {attempt.question: attempt.outcome for attempt in session.whole.attempts}


def block(page: Browser, **fields: str) -> Answer:
    """Send the form of a block."""
    usual = {"source": "north", "items": "141-145", "wrong": "", "round": "", "area": ""}
    return page.post("/log/block", {**usual, **fields})


def test_a_block_is_logged_by_its_wrong_numbers(browser: Callable[..., Browser]) -> None:
    """All are right but those that are named."""
    page = browser()
    answer = block(page, wrong="142, 144", blank="145", minutes="9")
    assert answer.status == 303
    assert outcomes(page) == {
        "north:141": "right",
        "north:142": "wrong",
        "north:143": "right",
        "north:144": "wrong",
        "north:145": "blank",
    }
    assert ",108,," in (page.root / "log/attempts-test.csv").read_text()


def test_the_source_of_a_block_is_chosen_by_its_name(browser: Callable[..., Browser]) -> None:
    """As on the screen of single answers; another is named by its short name."""
    declared = "sources:\n  - {source: north, name: North bank, kind: bank, items: 300}\n"
    page = browser({"study.yaml": declared})
    for address in ("/log", "/log/block"):
        assert page.get(address).elements.texts("option")[0] == "North bank"
    assert block(page, other="hill").status == 303
    assert set(outcomes(page)) == {f"hill:{item}" for item in range(141, 146)}
    kept = block(page, other="a b")
    assert kept.status == 400
    assert "a b" in [field.get("value") for field in kept.elements.all("input")]


def test_what_a_block_came_to_is_told(browser: Callable[..., Browser]) -> None:
    """Counts, the misses it left open, and one button that takes all of it back."""
    page = browser()
    told = page.get(block(page, wrong="142").goes_to)
    assert "5 answers added" in told.words
    assert "5 logged: 4 right, 1 wrong: 142." in told.words
    assert "1 missed. Write its note now" in told.words
    action = next(e["action"] for e in told.elements.all("form") if "/void" in str(e["action"]))
    page.post(str(action))
    assert outcomes(page) == {}


def test_a_block_sent_twice_is_one(browser: Callable[..., Browser]) -> None:
    """The same block of the same day adds nothing, unless it is said to be truly another."""
    page = browser()
    block(page)
    again = block(page)
    assert again.goes_to == "/log"
    assert "5 answers there already." in page.get("/log").words
    block(page, again="yes")
    lines = (page.root / "log/attempts-test.csv").read_text().splitlines()
    assert len(lines) == 1 + 5 + 5


@pytest.mark.parametrize(
    ("fields", "sentence"),
    [
        ({"items": "141-"}, "Numbers: '141-' is not a number or a range"),
        ({"wrong": "146"}, "Wrong: 146 is not in the block"),
        ({"wrong": "142", "blank": "142"}, "142 is both wrong and blank"),
        ({"minutes": "soon"}, "Minutes must be a number, such as 62; you typed 'soon'"),
        ({"minutes": "nan"}, "Minutes must be a number, such as 62; you typed 'nan'"),
        ({"area": "renla"}, "No area called 'renla' in the blueprint"),
        ({"round": "third"}, "There is no round 'third'"),
        ({"source": "no rth"}, "'no rth' is not a name for a source"),
        ({"source": "nroth"}, "'nroth' is not one of your sources. Did you mean north?"),
    ],
)
def test_a_block_that_cannot_be_is_refused(
    browser: Callable[..., Browser], fields: dict[str, str], sentence: str
) -> None:
    """One sentence says what is wrong; what was typed stays, and nothing is logged."""
    page = browser()
    answer = block(page, **{"guessed": "143", **fields})
    assert answer.status == 400
    assert sentence in answer.words
    assert 'value="143"' in answer.html
    assert outcomes(page) == {}


def test_a_sheet_is_shown_first(browser: Callable[..., Browser]) -> None:
    """Pasting shows what it would add, and each line not understood with its number."""
    page = browser()
    answer = page.post("/log/sheet", {"text": SHEET})
    assert outcomes(page) == {}
    assert "Line 4" in answer.words
    assert "5 answers would be logged; 1 line not understood." in answer.words
    assert "membranous vs minimal change" in answer.words
    assert "what is this" in answer.elements.texts("textarea")[0]


def test_no_outcome_word_is_logged_as_another_outcome(browser: Callable[..., Browser]) -> None:
    """Every way to write an outcome in one sheet: logged as meant, or kept aside."""
    words = sorted(word for word, entry in table().items() if entry.use != "cell")
    lines = (f"north:{number} {word}" for number, word in enumerate(words, start=5001))
    page = browser()
    assert page.post("/log/sheet/save", {"text": "\n".join(lines), "day": ""}).status == 303
    found = outcomes(page)
    assert len(found) > len(words) / 2
    for number, word in enumerate(words, start=5001):
        assert found.get(f"north:{number}", "") in ("", table()[word].said)


def test_a_second_press_takes_the_sheet(browser: Callable[..., Browser]) -> None:
    """Its answers are logged on their day, and the line not understood is kept aside."""
    page = browser()
    answer = page.post("/log/sheet/save", {"text": SHEET.replace("\n", "\r\n")})
    told = page.get(answer.goes_to)
    assert outcomes(page) == {
        "north:143": "wrong",
        "north:144": "right",
        "north:150": "right",
        "north:151": "right",
        "north:152": "right",
    }
    assert "2027-02-13T" in (page.root / "log/attempts-test.csv").read_text()
    assert "1 line not understood" in told.words
    kept = (page.root / "log/set-aside-sheets-test.txt").read_text()
    assert "what is this" in kept


def test_a_sheet_taken_twice_adds_nothing(browser: Callable[..., Browser]) -> None:
    """The look before says how many the log has already."""
    page = browser()
    page.post("/log/sheet/save", {"text": SHEET})
    assert (
        "The log has 5 of them already; nothing would be added."
        in page.post("/log/sheet", {"text": SHEET}).words
    )
    page.post("/log/sheet/save", {"text": SHEET})
    assert len((page.root / "log/attempts-test.csv").read_text().splitlines()) == 1 + 5


def test_answers_without_a_date_are_of_the_day_given(browser: Callable[..., Browser]) -> None:
    """A sheet without a heading's date belongs to the day in the form, and that is said first."""
    page = browser()
    fields = {"text": "north\n143\n", "day": "2027-02-12"}
    assert "they go under 12 Feb 2027" in page.post("/log/sheet", fields).words
    page.post("/log/sheet/save", fields)
    assert "2027-02-12T" in (page.root / "log/attempts-test.csv").read_text()


@pytest.mark.parametrize(
    ("fields", "status"),
    [
        ({"text": " \n"}, 400),
        ({"text": "north\n1", "day": "soon"}, 400),
        ({"text": "north\n1", "day": "2027-02-15"}, 400),
    ],
)
def test_an_empty_sheet_or_a_wrong_day_is_told(
    browser: Callable[..., Browser], fields: dict[str, str], status: int
) -> None:
    """Nothing is guessed."""
    assert browser().post("/log/sheet", fields).status == status


def test_a_sheet_without_answers_logs_nothing(browser: Callable[..., Browser]) -> None:
    """When no line is understood there is nothing to press, and a press logs nothing."""
    page = browser()
    looked = page.post("/log/sheet", {"text": "nothing of the kind"})
    assert "Log these" not in looked.words
    assert page.post("/log/sheet/save", {"text": "nothing of the kind"}).status == 400
    assert outcomes(page) == {}


def test_markup_in_a_sheet_is_text(browser: Callable[..., Browser]) -> None:
    """What is pasted is never part of the page."""
    evil = "north\n143 x </textarea><script>alert(1)</script>\n<b>\n"
    html = browser().post("/log/sheet", {"text": evil}).html
    assert "<script>alert" not in html
    assert "<b>" not in html


@pytest.mark.parametrize("address", ["/log/sheet", "/log/sheet/save"])
@pytest.mark.parametrize(
    ("text", "day", "sentence"),
    [
        ("north\n143\n", "soon", "'soon' is not a date. Write it as 2027-02-14."),
        ("north\n143\n", "2027-02-15", "2027-02-15 has not come yet. Correct the day."),
        ("north\n143\n", "1989-12-31", "1989-12-31 is too long ago. Correct the day."),
        ("north\n" * 40_000, "", "The sheet is too long: at most 200000 characters."),
    ],
)
def test_what_was_pasted_stays_when_it_is_refused(
    browser: Callable[..., Browser], address: str, text: str, day: str, sentence: str
) -> None:
    """The sheet is in its field again, with what is wrong said above it."""
    page = browser()
    answer = page.post(address, {"text": text, "day": day})
    assert answer.status == 400
    assert sentence in answer.words
    assert " ".join(text.split()) in answer.elements.texts("textarea")
    assert outcomes(page) == {}


def test_a_sheet_without_answers_stays_in_its_field(browser: Callable[..., Browser]) -> None:
    """Nothing to log is said beside the text."""
    answer = browser().post("/log/sheet/save", {"text": "nothing of the kind"})
    assert "The sheet holds no answer." in answer.words
    assert "nothing of the kind" in answer.elements.texts("textarea")


def test_what_was_typed_of_a_block_stays_when_the_disk_is_full(
    browser: Callable[..., Browser], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The form comes back filled in, and says what to do."""

    def refuse(*_: object, **__: object) -> None:
        raise KBError("cannot be written: no space left on device", hint="make room")

    page = browser()
    monkeypatch.setattr(attempt_store.atomic_files, "append_lines", refuse)
    answer = block(page, wrong="142")
    assert answer.status == 400
    assert "no space left on device. Make room." in answer.words
    assert 'value="142"' in answer.html


def test_a_page_shows_some_of_very_many_lines(browser: Callable[..., Browser]) -> None:
    """A text that is no sheet at all does not become a page without end."""
    words = browser().post("/log/sheet", {"text": "no such thing\n" * 250}).words
    assert "And 50 more lines." in words
