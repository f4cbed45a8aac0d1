"""Touches counted; what was typed outlives a restart and a tunnel; reading is measured."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

import pytest
from screens import NOTE
from selenium.webdriver.common.keys import Keys

from kb.web.login import Door, Passphrase

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from serving import Server
    from visitor import Visitor

pytestmark = pytest.mark.browser

WORDS = "kettle marble ostrich"
RIGHT = "button[value=right]"
WRONG = "#wrong > summary"
COUNT_TOUCHES = """
window.touches = 0;
window.touched = performance.now();
addEventListener('click', () => { window.touched = performance.now(); }, true);
addEventListener('pointerdown', () => { window.touches += 1; }, true);
"""


def logged(server: Server) -> list[dict[str, str]]:
    """What the page's own log holds, without what was taken back."""
    path = server.root / "log" / "attempts-page.csv"
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    back = {row["voids"] for row in rows}
    return [row for row in rows if row["outcome"] != "void" and row["id"] not in back]


def start(visitor: Visitor, number: str, source: str = "north") -> None:
    """Open the screen on a phone, with nothing left from before, at a number."""
    visitor.phone()
    address = f"/log?source={source}&item={number}&round=first"
    visitor.open(address)
    visitor.until(lambda: visitor.all("#entry"), "the form")
    visitor.run("localStorage.clear()")
    visitor.open(address)


def reason(word: str) -> str:
    """The button of one reason."""
    return f"button[name=reason][value='{word}']"


def next_touch(visitor: Visitor) -> None:
    """Wait as long as a thumb needs; two touches at once are taken for one."""
    waited = "return performance.now() - window.touched > 200"
    visitor.until(lambda: visitor.run(waited), "time for another touch")


def all_saved(visitor: Visitor) -> bool:
    """Whether every row says that it is saved."""
    states = [e.get_attribute("textContent").strip() for e in visitor.all("li[data-entry] .state")]
    return bool(states) and all(state in ("saved", "taken back") for state in states)


def test_ten_questions_take_thirteen_touches(visitor: Visitor, server: Server) -> None:
    """A right answer takes one touch and a wrong one two; the numbers count on by themselves."""
    start(visitor, "101")
    before = len(logged(server))
    visitor.run(COUNT_TOUCHES)
    for number in range(10):
        if number in (2, 5, 9):
            visitor.one(WRONG).click()
            visitor.one(reason("two-left")).click()
        else:
            visitor.one(RIGHT).click()
        next_touch(visitor)
    assert visitor.one("#item").get_attribute("value") == "111"
    assert visitor.run("return window.touches") == 13
    visitor.until(lambda: all_saved(visitor), "ten answers saved")
    new = logged(server)[before:]
    assert [row["question"] for row in new] == [f"north:{number}" for number in range(101, 111)]
    assert [row["question"] for row in new if row["outcome"] == "wrong"] == [
        "north:103",
        "north:106",
        "north:110",
    ]
    assert {row["reason"] for row in new if row["outcome"] == "wrong"} == {"two-left"}
    assert visitor.console_errors() == []


def test_notes_are_read_with_one_touch_each(visitor: Visitor, server: Server) -> None:
    """From Read to the scroll is one touch; each note is one more, and the next comes into view."""
    visitor.phone()
    visitor.open("/read")
    visitor.until(lambda: visitor.all("a[href='/read/work']"), "the lists")
    before = len(readings(server))
    visitor.leave(visitor.one("a[href='/read/work']").click)
    visitor.run(COUNT_TOUCHES)
    for number in (1, 2, 3):
        visitor.one(f"#note-{number} .read-on button").click()
        visitor.until(
            lambda n=number: visitor.run("return document.activeElement.id") == f"note-{n + 1}",
            "the next note",
        )
    assert visitor.run("return window.touches") == 3
    visitor.until(lambda: len(readings(server)) == before + 3, "three readings")


def test_an_area_shows_all_its_figures_on_touch(visitor: Visitor) -> None:
    """On a phone a row has its standing with the range and what is at risk; a touch shows more."""
    visitor.phone()
    visitor.scripts(allowed=False)
    visitor.open("/progress")
    heads = [head.text for head in visitor.all("#content .folds th[scope=col]") if head.text]
    assert heads == ["Area", "Standing", "At risk"]
    assert "Answers" not in visitor.one(".calm").text
    visitor.one(".fold > summary").click()
    assert "Answers" in visitor.one(".calm .rest").text
    assert visitor.one(".calm .rest a").text.startswith("Open ")


@pytest.mark.parametrize("path", ["/find?words=low+sodium", "/report/queue"])
def test_a_list_on_a_laptop_has_the_chosen_note_beside_it(visitor: Visitor, path: str) -> None:
    """The first note is open at once, another with one press; on a phone a link leads to it."""
    visitor.open(path)
    links = ".split .sheet .subject a"
    first, second = (link.text for link in visitor.all(links)[:2])
    chosen = "return document.querySelector('.pane h2')?.textContent"
    visitor.until(lambda: visitor.run(chosen) == first, "the first note")
    visitor.all(links)[1].click()
    visitor.until(lambda: visitor.run(chosen) == second, "the second note")
    assert visitor.path == path.partition("?")[0]
    assert visitor.accessibility() == []
    visitor.phone()
    visitor.open(path)
    assert not visitor.all(".pane .note")
    visitor.leave(visitor.one(links).click)
    assert visitor.path.startswith("/note/")


LOG, READ, PROGRESS = (f"nav a[href='/{word}']" for word in ("log", "read", "progress"))


@pytest.mark.parametrize(
    ("touched", "path"),
    [
        ((".steps a[href='/log/misses']", ".sheet .subject a"), "/log/miss/"),
        (("a[href='/read/work']",), "/read/work"),
        (("a[href='/report/plan']",), "/report/plan"),
        ((READ, "a[href='/report/retry']"), "/report/retry"),
        ((PROGRESS, "a[href='/report/gaps']", "a[href^='/merge']"), "/merge"),
        ((READ, "a[href='/rename']"), "/rename"),
        ((LOG, "a[href='/log/paper']"), "/log/paper"),
        ((LOG, "a[href='/log/draw']"), "/log/draw"),
        ((LOG, "a[href='/undo']"), "/undo"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_from_today_it_takes_so_many_touches(
    visitor: Visitor, touched: tuple[str, ...], path: str
) -> None:
    """As many as DEVELOPERS.md counts; each is a link on the screen that one is on."""
    visitor.phone()
    visitor.open("/")
    for css in touched:
        visitor.leave(visitor.one(css).click)
    assert visitor.path.startswith(path)


def test_a_block_is_one_touch_from_log_with_its_source(visitor: Visitor) -> None:
    """Nothing is left to be chosen but the numbers."""
    start(visitor, "101")
    visitor.leave(visitor.one(".ways a").click)
    assert visitor.path == "/log/block"
    assert visitor.one("#source").get_attribute("value") == "north"
    assert visitor.one("#block-round").get_attribute("value") == "first"


def test_keys_log_where_nothing_is_typed(visitor: Visitor, server: Server) -> None:
    """On a laptop r is right and 1 to 3 how sure; the next answer begins with neither."""
    visitor.open("/log?source=north&item=161&round=first")
    visitor.until(lambda: visitor.all("#entry"), "the form")
    before = len(logged(server))
    visitor.press("2", "r")
    visitor.until(lambda: len(logged(server)) == before + 1, "an answer")
    row = logged(server)[-1]
    assert (row["question"], row["outcome"], row["certainty"]) == ("north:161", "right", "2")
    chosen = visitor.run("return document.querySelector('[name=certainty]:checked').value")
    assert chosen == ""


def anew(server: Server) -> None:
    """Start the page anew, as after the laptop was shut: tokens of before are worth nothing."""
    from datetime import UTC, datetime

    from serving import KEY

    from kb.web.app import create_app

    noon = datetime(2027, 4, 5, 12, tzinfo=UTC)
    server.stop()
    server._app = create_app(
        server.root, clock=lambda: noon, device="page", port=server.port, key=KEY
    )
    server.start()


def test_logging_goes_on_after_a_restart(visitor: Visitor, server: Server) -> None:
    """A page loaded before missbook was started anew gets itself a new token and logs on."""
    start(visitor, "121")
    visitor.run(COUNT_TOUCHES)
    before = len(logged(server))
    visitor.one(RIGHT).click()
    visitor.until(lambda: all_saved(visitor), "the first answer saved")
    anew(server)
    next_touch(visitor)
    visitor.one(RIGHT).click()
    visitor.until(lambda: all_saved(visitor), "the second answer saved")
    questions = [row["question"] for row in logged(server)[before:]]
    assert questions == ["north:121", "north:122"]


def test_an_edit_outlives_a_restart(visitor: Visitor, server: Server) -> None:
    """What was typed into a note before the restart is saved after it."""
    visitor.open(f"{NOTE}/edit")
    visitor.one("#text").send_keys("Typed before the restart.\n")
    anew(server)
    visitor.leave(visitor.one("main form button").click)
    visitor.until(lambda: visitor.path == NOTE, "the note")
    assert "Typed before the restart." in (server.root / NOTE.removeprefix("/note/")).read_text()


def test_an_edit_without_connection_stays_in_the_page(visitor: Visitor, server: Server) -> None:
    """Saving into nothing leaves the text where it is and says so; the next press saves it."""
    visitor.open(f"{NOTE}/edit")
    visitor.one("#text").send_keys("Typed in a tunnel.\n")
    with visitor.without_connection():
        visitor.one("main form button").click()
        visitor.until(lambda: "No connection" in visitor.one(".steady").text, "what happened")
        assert "Typed in a tunnel." in str(visitor.one("#text").get_attribute("value"))
    visitor.leave(visitor.one("main form button").click)
    assert "Typed in a tunnel." in (server.root / NOTE.removeprefix("/note/")).read_text()


def test_reading_is_measured_while_the_page_is_seen(visitor: Visitor, server: Server) -> None:
    """Seconds count while the note is in view, and not while another page is before it."""
    visitor.open(NOTE)
    visitor.run(
        "window.ahead = 0; const real = performance.now.bind(performance);"
        "performance.now = () => real() + window.ahead; window.ahead = 42000;"
    )
    mark_as_read(visitor, server)
    assert 42 <= float(readings(server)[-1]) <= 60
    visitor.open("/note/nephrology/renal-tubular-acidosis-types.md")
    visitor.run(
        "let away = true;"
        "Object.defineProperty(document, 'hidden', {get: () => away, configurable: true});"
        "document.dispatchEvent(new Event('visibilitychange'));"
        "const real = performance.now.bind(performance);"
        "performance.now = () => real() + 42000; away = false;"
        "document.dispatchEvent(new Event('visibilitychange'));"
    )
    mark_as_read(visitor, server)
    assert float(readings(server)[-1]) < 42


def mark_as_read(visitor: Visitor, server: Server) -> None:
    """Press the button under a note, and wait until the reading is saved."""
    before = len(readings(server))
    visitor.one(".read-on button").click()
    visitor.until(lambda: len(readings(server)) == before + 1, "a reading")


def readings(server: Server) -> list[str]:
    """The seconds of every reading that the page recorded."""
    path = server.root / "log" / "readings-page.csv"
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as stream:
        return [row["seconds"] for row in csv.DictReader(stream)]


def test_a_sheet_is_taken_without_scripts(visitor: Visitor, server: Server) -> None:
    """Pasting, looking and taking are plain forms."""
    visitor.phone()
    visitor.scripts(allowed=False)
    visitor.open("/log/sheet")
    before = len(logged(server))
    visitor.one("#sheet").send_keys(
        "4 Apr north\n131 x C>B gout vs pseudogout\n132\nwhat is this\n"
    )
    visitor.leave(visitor.one("form[action='/log/sheet'] button").click)
    assert "Line 4" in visitor.text
    assert len(logged(server)) == before
    visitor.leave(visitor.one("form[action='/log/sheet/save'] button").click)
    assert [row["question"] for row in logged(server)[before:]] == ["north:131", "north:132"]
    visitor.scripts(allowed=True)


def sign_in(visitor: Visitor) -> None:
    """Give the passphrase, where it is asked for."""
    visitor.one("input[name=passphrase]").send_keys(WORDS)
    visitor.leave(visitor.one("main form button").click)


def test_answers_wait_until_one_signs_in_again(
    visit: Callable[[Server], Visitor], demo_server: Callable[..., Server]
) -> None:
    """When a visit ends while one logs, the answers wait and say for what, and then go out."""
    door = Door(Passphrase.of(WORDS))
    server = demo_server(lan=door)
    visitor = visit(server)
    visitor.open("/log?source=north&item=141")
    sign_in(visitor)
    visitor.run("localStorage.clear()")
    door._inside.clear()
    visitor.one(RIGHT).click()
    visitor.until(
        lambda: "until you sign in again" in visitor.one("#waiting").text, "what it waits for"
    )
    own = visitor.driver.current_window_handle
    visitor.one("#waiting a").click()
    visitor.driver.switch_to.window(visitor.driver.window_handles[-1])
    visitor.until(lambda: visitor.all("input[name=passphrase]"), "the door")
    sign_in(visitor)
    visitor.driver.close()
    visitor.driver.switch_to.window(own)
    visitor.run("dispatchEvent(new Event('online'))")
    visitor.until(lambda: all_saved(visitor), "the answer saved")
    assert [row["question"] for row in logged(server)] == ["north:141"]


def test_an_edit_waits_until_one_signs_in_again(
    visit: Callable[[Server], Visitor], demo_server: Callable[..., Server]
) -> None:
    """An edit is not lost in the door: the page keeps it and says what to do."""
    door = Door(Passphrase.of(WORDS))
    visitor = visit(demo_server(lan=door))
    visitor.open(f"{NOTE}/edit")
    sign_in(visitor)
    visitor.one("#text").send_keys("Typed before the door closed.\n")
    door._inside.clear()
    visitor.one("main form button").click()
    visitor.until(lambda: "Sign in again" in visitor.one(".steady").text, "what to do")
    assert "Typed before the door closed." in str(visitor.one("#text").get_attribute("value"))


def note_file(server: Server) -> Path:
    """The note's file."""
    return server.root / NOTE.removeprefix("/note/")


def from_elsewhere(server: Server, line: str) -> None:
    """Another hand adds a line to the note."""
    path = note_file(server)
    path.write_text(f"{path.read_text(encoding='utf-8').rstrip()}\n{line}\n", encoding="utf-8")


@pytest.mark.parametrize("scripts", [True, False], ids=["scripts", "no scripts"])
def test_an_edit_conflict_loses_nothing(visitor: Visitor, server: Server, scripts: bool) -> None:
    """A file that changed is not written over unseen: both versions are shown, one's own stays."""
    mine, other = f"My own line, {scripts}.", f"A line from elsewhere, {scripts}."
    visitor.phone()
    visitor.scripts(allowed=scripts)
    visitor.open(f"{NOTE}/edit")
    visitor.one("#text").send_keys(f"{mine}\n")
    from_elsewhere(server, other)
    visitor.leave(visitor.one("main form button").click)
    assert "The file changed while you were writing" in visitor.text
    assert other in [line.text for line in visitor.all("del")]
    assert mine in [line.text for line in visitor.all("ins")]
    assert mine in str(visitor.one("#text").get_attribute("value"))
    assert other in note_file(server).read_text(encoding="utf-8")
    assert visitor.sideways() == []
    assert not scripts or visitor.accessibility() == []
    visitor.leave(visitor.one("main form button").click)
    visitor.scripts(allowed=True)
    saved = note_file(server).read_text(encoding="utf-8")
    assert mine in saved
    assert other not in saved


def test_keys_alone_edit_a_note(visitor: Visitor, server: Server) -> None:
    """From the note to its edit, through a preview, to the saved file, without a mouse."""
    visitor.open(NOTE)
    tab_to(visitor, "a[href$='/edit']")
    visitor.leave(lambda: visitor.press(Keys.ENTER))
    tab_to(visitor, "#text")
    visitor.press("Typed by keys alone. ")
    tab_to(visitor, "button[name=preview]")
    visitor.leave(lambda: visitor.press(Keys.ENTER))
    assert "Typed by keys alone." in visitor.one("article").text
    tab_to(visitor, "main form button")
    visitor.leave(lambda: visitor.press(Keys.ENTER))
    assert "Typed by keys alone." in note_file(server).read_text(encoding="utf-8")


def tab_to(visitor: Visitor, css: str) -> None:
    """Press Tab until something has the focus."""
    for _ in range(80):
        visitor.press(Keys.TAB)
        if visitor.run("return document.activeElement.matches(arguments[0])", css):
            return
    raise AssertionError(f"Tab never comes to {css}")
