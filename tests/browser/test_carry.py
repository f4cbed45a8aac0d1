"""The carried file in a browser: read, found in, logged in, and nothing asked of a network."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from conftest import whole
from selenium.webdriver.common.keys import Keys
from serving import DAY, ROOT
from test_hostile_base import BODY, BREAK, HEAD, SVG, TAG
from visitor import Visitor

from kb.cli import main

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from selenium.webdriver.chrome.webdriver import WebDriver

pytestmark = pytest.mark.browser
OPEN_ANSWERS = "document.getElementById('answers').open = true"


@dataclass(frozen=True)
class Folder:
    """Where a carried file lies: what a visitor takes for a server."""

    root: Path
    cookie = ""

    @property
    def address(self) -> str:
        """The folder as a browser names it."""
        return self.root.as_uri()


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Folder:
    """A copy of the demo base, and all of its notes carried."""
    root = tmp_path_factory.mktemp("carried")
    shutil.copytree(ROOT / "notes", root / "base", ignore=shutil.ignore_patterns(".*"))
    given = ["carry", "--out", str(root / "train.html")]
    done = CliRunner().invoke(main, [*given, "--base", str(root / "base"), "--as-of", str(DAY)])
    assert done.exit_code == 0, done.stderr
    return Folder(root)


@pytest.fixture
def reader(driver: WebDriver, visit: Callable[..., Visitor], folder: Folder) -> Visitor:
    """A visitor with the file open on a phone, nothing kept from before."""
    visitor = visit(folder)  # type: ignore[arg-type]
    visitor.phone()
    visitor.open("/train.html")
    visitor.run("localStorage.clear()")
    visitor.open("/train.html")
    return visitor


def log(visitor: Visitor, item: str, outcome: str, **more: str) -> None:
    """Type one answer into the form and press its button."""
    field = visitor.one("#item")
    field.clear()
    field.send_keys(item)
    reason = more.pop("reason", "")
    if (outcome == "wrong" or "remark" in more) and not visitor.all("#wrong[open]"):
        visitor.one("#wrong > summary").click()
    for name, value in more.items():
        if name in ("chosen", "key", "certainty"):
            visitor.run(
                "arguments[0].checked = true", visitor.one(f"[name={name}][value='{value}']")
            )
        else:
            visitor.one(f"#{name}").send_keys(value)
    button = f"button[name=reason][value='{reason}']" if outcome == "wrong" else ""
    visitor.one(button or f"button[value={outcome}]").click()


def sheet(visitor: Visitor) -> str:
    """The text of the answer sheet so far."""
    return str(visitor.run("return document.getElementById('sheet').value"))


def test_it_is_read_and_found_in_without_a_network(reader: Visitor) -> None:
    """A word in the other spelling leads to its note, and is marked there."""
    reader.one("#words").send_keys("pulmonary edema")
    link = reader.one("#results a")
    link.click()
    marked = [mark.text for mark in reader.all("article mark")]
    assert "oedema" in [word.casefold() for word in marked]
    assert reader.foreign_requests() == []
    assert reader.console_errors() == []


def test_an_address_with_a_broken_end_still_offers_the_form(reader: Visitor) -> None:
    """However the file was opened, answers can be typed."""
    reader.driver.get("about:blank")
    reader.open("/train.html#100%")
    assert not reader.run("return document.getElementById('answers-body').hidden")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_no_barriers_with_everything_open(reader: Visitor, scheme: str) -> None:
    """The accessibility engine finds nothing, in light and in dark, with form and results shown."""
    reader.scheme(scheme)
    reader.run(OPEN_ANSWERS)
    reader.run("document.querySelectorAll('details').forEach(d => d.open = true)")
    log(reader, "1041", "wrong")
    reader.one("#words").send_keys("gap")
    assert "\n".join(reader.accessibility()) == ""


def test_it_fits_a_narrow_screen_and_a_thumb(reader: Visitor) -> None:
    """At 320 pixels nothing stands out sideways, and what is to be touched is large enough."""
    reader.narrow()
    reader.run("document.querySelectorAll('details').forEach(d => d.open = true)")
    log(reader, "1041", "wrong")
    reader.one("#words").send_keys("gap")
    assert reader.sideways() == []
    assert reader.small_targets() == []


def test_everything_is_reached_by_keyboard(reader: Visitor) -> None:
    """Tab goes everywhere, and one sees where it is."""
    reader.laptop()
    reader.run(OPEN_ANSWERS)
    log(reader, "1041", "wrong")
    # A field for a day has a stop for each of its parts, which would be counted as one.
    reader.run("document.getElementById('day').type = 'text'")
    # The contents of one area are enough: all have the same form.
    reader.run("document.querySelectorAll('article, section ~ section').forEach(e => e.remove())")
    found = reader.tab_through()
    assert found["missed"] == []
    assert found["unseen"] == []


def test_without_scripts_the_notes_can_be_read(reader: Visitor) -> None:
    """Notes, contents and cautions are there; what needs a script is not shown."""
    reader.scripts(allowed=False)
    reader.open("/train.html")
    assert reader.one("article").is_displayed()
    assert not reader.one("#find").is_displayed()
    reader.one("#contents summary").click()
    assert reader.one("#contents ol a").is_displayed()
    reader.one("#answers summary").click()
    assert "answer sheet" in reader.one("#no-form").text
    assert not reader.one("#answer-form").is_displayed()


def test_five_answers_come_out_as_a_sheet_that_is_taken_in(reader: Visitor, folder: Folder) -> None:
    """What was typed on the way is logged at home, every line of it."""
    reader.run(OPEN_ANSWERS)
    reader.run("document.getElementById('day').value = '2027-04-04';")
    reader.run("document.getElementById('day').max = '';")
    reader.run("Date = class extends Date { constructor() { super('2027-04-05T12:00'); } };")
    log(reader, "2101", "right")
    more = {"chosen": "C", "key": "B", "reason": "two-left"}
    log(reader, "2102", "wrong", remark="drusen, 2103 x or spots", **more)
    log(reader, "2103", "right", certainty="1")
    log(reader, "2104", "blank", remark="ran out of time")
    log(reader, "2105-2109", "right")
    text = sheet(reader)
    assert text == (
        "2027-04-04 source north\n"
        "2101\n"
        "2102 x C>B two-left // drusen, 2103 x or spots\n"
        "2103 c1\n"
        "2104 blank // ran out of time\n"
        "2105-2109\n"
    )
    base = folder.root / "base"
    given = ["log", "sheet", "-", "--base", str(base), "--as-of", str(DAY)]
    before = len(whole(base).attempts)
    done = CliRunner().invoke(main, given, input=text)
    assert done.exit_code == 0
    assert "not understood" not in done.output
    added = sorted(whole(base).attempts, key=lambda a: a.at)
    assert len(added) - before == 9


def test_the_number_counts_on_and_the_focus_stays(reader: Visitor) -> None:
    """Number, touch, number, touch: nothing else is needed."""
    reader.run(OPEN_ANSWERS)
    reader.one("#item").send_keys("1041", Keys.ENTER)
    assert reader.run("return document.activeElement.id") == "item"
    reader.press(Keys.ENTER)
    assert [line.split()[-1] for line in sheet(reader).splitlines()[1:]] == ["1041", "1042"]


def test_nothing_typed_is_lost_on_reload(reader: Visitor) -> None:
    """Answers, the source chosen and a remark half typed come back."""
    reader.run(OPEN_ANSWERS)
    log(reader, "1041", "wrong", source="Harbour")
    reader.one("#wrong > summary").click()
    reader.one("#remark").send_keys("half a")
    text = sheet(reader)
    reader.open("/train.html")
    reader.run(OPEN_ANSWERS)
    assert sheet(reader) == text
    assert reader.one("#remark").get_attribute("value") == "half a"
    assert reader.one("#source").get_attribute("value") == "harbour"
    assert reader.one("#item").get_attribute("value") == "1042"


def test_it_says_so_where_nothing_can_be_kept(reader: Visitor) -> None:
    """A browser that keeps nothing is named before answers are lost."""
    reader.run(OPEN_ANSWERS)
    assert not reader.one("#not-kept").is_displayed()
    reader.run("Storage.prototype.setItem = () => { throw new Error('full'); };")
    log(reader, "1041", "right")
    assert reader.one("#not-kept").is_displayed()
    assert "1041" in sheet(reader)
    reader.run("delete Storage.prototype.setItem")


@pytest.mark.parametrize(
    ("item", "more", "message"),
    [
        ("", {}, "Write the number"),
        ("12-11", {}, "A range goes up"),
        ("7", {"chosen": "C"}, "Give both letters"),
        ("7", {"chosen": "C", "key": "C"}, "You chose the key"),
    ],
)
def test_what_cannot_be_logged_is_said(
    reader: Visitor, item: str, more: dict[str, str], message: str
) -> None:
    """The field is named to a screen reader, and nothing is added."""
    reader.run(OPEN_ANSWERS)
    log(reader, item, "wrong", **more)
    assert message in reader.one("#said").text
    assert len(reader.all("[aria-invalid=true]")) == 1
    assert sheet(reader) == ""


def test_answers_are_removed_one_by_one_or_all_after_asking_again(reader: Visitor) -> None:
    """One press alone removes nothing of the whole."""
    reader.run(OPEN_ANSWERS)
    for item in ("1", "2", "3"):
        log(reader, item, "right")
    reader.one("#lines button").click()
    assert sheet(reader).splitlines()[1:] == ["2", "3"]
    reader.one("#clear").click()
    assert sheet(reader).splitlines()[1:] == ["2", "3"]
    reader.one("#clear").click()
    assert sheet(reader) == ""


def test_the_same_question_again_takes_the_place_of_the_first(reader: Visitor) -> None:
    """A slip is mended by typing it anew."""
    reader.run(OPEN_ANSWERS)
    log(reader, "7", "right")
    log(reader, "7", "wrong")
    assert sheet(reader).splitlines()[1:] == ["7 x"]
    assert "in place of" in reader.one("#said").text


def test_a_note_by_somebody_else_runs_nothing(
    visit: Callable[..., Visitor], tmp_path: Path
) -> None:
    """Whatever title, text, basis and evidence hold is shown as text, searched or not."""
    root = tmp_path / "base"
    shutil.copytree(ROOT / "notes", root, ignore=shutil.ignore_patterns(".*"))
    (root / "nephrology" / "sentinel.md").write_text(HEAD + BODY, encoding="utf-8")
    (root / "nephrology" / "near.svg").write_text(SVG, encoding="utf-8")
    exam = (root / "exam.yaml").read_text(encoding="utf-8")
    exam = exam.replace("name: Nephrology", f"name: 'Nephrology {TAG} {BREAK}'")
    (root / "exam.yaml").write_text(exam, encoding="utf-8")
    given = ["carry", "--out", str(tmp_path / "train.html")]
    done = CliRunner().invoke(main, [*given, "--base", str(root), "--as-of", str(DAY)])
    assert done.exit_code == 0, done.stderr
    visitor = visit(Folder(tmp_path))
    visitor.open("/train.html")
    visitor.one("#words").send_keys("sentinel script onload")
    visitor.one("#results a").click()
    visitor.run(OPEN_ANSWERS)
    log(visitor, "1", "right", remark=TAG + BREAK)
    assert TAG in visitor.one("article:has(mark) h3").text
    assert visitor.run("return window.ran") is None
    assert visitor.foreign_requests() == []
    assert visitor.console_errors() == []
