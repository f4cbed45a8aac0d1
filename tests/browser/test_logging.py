"""Logging when something is missing: the connection, the reply, scripts, a mouse, a steady hand."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING, Any

import pytest
from selenium.webdriver.common.keys import Keys

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from serving import Server
    from visitor import Visitor

pytestmark = pytest.mark.browser


class Unreliable:
    """An application whose answers can get lost after the work was done."""

    def __init__(self, inner: Any) -> None:
        self._inner = inner
        self.losing = False

    def __call__(self, environ: dict[str, Any], start: Any) -> Any:
        """Answer, or do the work and break off before a word is said."""
        if not self.losing or environ["REQUEST_METHOD"] != "POST":
            return self._inner(environ, start)
        list(self._inner(environ, lambda *_: None))
        start("200 OK", [("Content-Length", "1000"), ("Content-Type", "application/json")])
        return iter([b"{"])  # shorter than announced: the connection is cut


def answers(server: Server) -> list[dict[str, str]]:
    """What the page has written into the log, as it counts: taken back ones are left out."""
    rows: list[dict[str, str]] = []
    for path in sorted((server.root / "log").glob("attempts-page*.csv")):
        with path.open(encoding="utf-8", newline="") as lines:
            rows.extend(csv.DictReader(lines))
    back = {row["voids"] for row in rows if row["voids"]}
    return [row for row in rows if row["question"] and row["id"] not in back]


def logged(server: Server, first: int) -> list[tuple[int, str, str]]:
    """(item, outcome, reason) of every answer to the ten questions from `first` on."""
    rows = [(int(row["question"].split(":")[1]), row) for row in answers(server)]
    found = [(item, row["outcome"], row["reason"]) for item, row in rows]
    return [each for each in found if first <= each[0] < first + 10]


@pytest.fixture(scope="module")
def unreliable(server: Server) -> Unreliable:
    """The application of the server, with answers that can be lost."""
    wrapped = Unreliable(server._app)
    server.stop()
    server._app = wrapped
    server.start()
    return wrapped


@pytest.fixture
def phone(visitor: Visitor) -> Iterator[Visitor]:
    """A phone; what it kept is forgotten afterwards."""
    visitor.phone()
    yield visitor
    visitor.scripts(allowed=True)
    visitor.open("/static/icon.svg")
    visitor.run("localStorage.clear()")


def begin(phone: Visitor, item: int) -> None:
    """Open the form at a question."""
    phone.open(f"/log?source=harbour&item={item}")


def right(phone: Visitor) -> None:
    """One touch."""
    phone.one("button[value=right]").click()


def wrong(phone: Visitor, reason: str = "forgotten") -> None:
    """Two touches."""
    phone.one("#wrong > summary").click()
    phone.one(f"button[name=reason][value='{reason}']").click()


def item(phone: Visitor) -> str:
    """The number that the form is at."""
    return str(phone.one("#item").get_attribute("value"))


def all_saved(phone: Visitor, count: int) -> Callable[[], bool]:
    """Whether that many rows say that they are saved."""
    return lambda: sum(s.text == "saved" for s in phone.all("#latest .state")) >= count


def settle(phone: Visitor) -> None:
    """The guard against a double touch of one button is over: a person is slower anyway."""
    phone.run("const end = performance.now() + 210; while (performance.now() < end);")


def test_two_quick_touches_are_one_answer(phone: Visitor, server: Server) -> None:
    """A finger that trembles logs one answer."""
    begin(phone, 2001)
    phone.run("const b = document.querySelector('button[value=right]'); b.click(); b.click();")
    phone.until(all_saved(phone, 1), "a saved answer")
    assert logged(server, 2001) == [(2001, "right", "")]


def test_a_logged_miss_fits_letters_of_twice_the_size(phone: Visitor) -> None:
    """What the screen shows after an answer is as narrow as before it."""
    begin(phone, 2951)
    wrong(phone)
    phone.until(all_saved(phone, 1), "the answer saved")
    phone.run("document.documentElement.style.fontSize = '200%'")
    assert phone.sideways() == []


def test_every_reason_is_in_view_on_a_low_screen(phone: Visitor) -> None:
    """390 x 664 is what a phone's browser leaves of 390 x 844."""
    phone.screen(390, 664, touch=True)
    begin(phone, 2961)
    phone.one("#wrong > summary").click()
    ends = "return document.querySelector('.none').getBoundingClientRect().bottom"
    bar = "return document.querySelector('header').getBoundingClientRect().top"
    phone.until(lambda: phone.run(ends) <= phone.run(bar), "the last reason above the navigation")
    assert phone.run("return document.querySelector('#item').getBoundingClientRect().top") >= 0


def test_source_and_round_are_seen_whole(phone: Visitor) -> None:
    """Neither name runs under the arrow of its field."""
    phone.open("/log?source=north&round=second")
    room = """
      const pen = document.createElement('canvas').getContext('2d'), ARROW = 20;
      return [...document.querySelectorAll('.first select')].map(e => {
        pen.font = getComputedStyle(e).font;
        const style = getComputedStyle(e), text = pen.measureText(e.selectedOptions[0].text).width;
        return e.clientWidth - parseFloat(style.paddingLeft) - text - ARROW;
      });
    """
    assert min(phone.run(room)) >= 0


def test_an_answer_can_be_taken_back(phone: Visitor, server: Server) -> None:
    """A slip is undone by one touch, and its number is offered again."""
    begin(phone, 2011)
    right(phone)
    phone.until(all_saved(phone, 1), "a saved answer")
    phone.one("#latest li button").click()
    phone.until(lambda: logged(server, 2011) == [], "nothing logged any more")
    assert item(phone) == "2011"


def test_a_miss_opens_a_field_with_notes_that_cover_it(phone: Visitor, server: Server) -> None:
    """While the note is typed the notes nearest to it appear, and one touch links one of them."""
    begin(phone, 2021)
    wrong(phone, "unknown")
    phone.until(lambda: phone.one("#miss").is_displayed(), "the field for the note")
    phone.one("#body").send_keys("low sodium, concentrated urine: SIADH only when not dry")
    phone.until(lambda: "SIADH" in phone.one(".near").text, "notes that may cover it")
    link = next(b for b in phone.all(".near button") if "SIADH" in str(b.accessible_name))
    phone.uncover(link)
    assert phone.accessibility() == []
    link.click()
    phone.until(lambda: phone.all(".done"), "what was done")
    notes = [p.read_text("utf-8") for p in server.root.glob("*/*siadh*.md")]
    assert any("harbour:2021" in text for text in notes)


def test_answers_wait_for_the_connection_and_come_once(phone: Visitor, server: Server) -> None:
    """What is logged while the connection is lost is kept, said so, and sent when it is back."""
    begin(phone, 2031)
    with phone.without_connection():
        right(phone)
        settle(phone)
        wrong(phone, "rushed")
        settle(phone)
        right(phone)
        phone.until(lambda: "3 answers wait" in phone.one("#waiting").text, "what waits")
        assert item(phone) == "2034"
    phone.run("dispatchEvent(new Event('online'))")
    phone.until(all_saved(phone, 3), "three saved answers")
    expected = [(2031, "right", ""), (2032, "wrong", "rushed"), (2033, "right", "")]
    assert logged(server, 2031) == expected


def test_answers_outlive_the_page(phone: Visitor, server: Server) -> None:
    """A page closed while answers wait has them again when it is opened next."""
    begin(phone, 2041)
    with phone.without_connection():
        right(phone)
        settle(phone)
        right(phone)
        phone.until(lambda: "2 answers wait" in phone.one("#waiting").text, "what waits")
        phone.driver.get("about:blank")
    phone.open("/log")
    phone.until(all_saved(phone, 2), "two saved answers")
    assert logged(server, 2041) == [(2041, "right", ""), (2042, "right", "")]


def test_a_lost_reply_doubles_nothing(
    phone: Visitor, server: Server, unreliable: Unreliable
) -> None:
    """An answer that arrived although no reply came back is sent again and counted once."""
    begin(phone, 2051)
    unreliable.losing = True
    right(phone)
    phone.until(lambda: "wait" in phone.one("#waiting").text, "what waits")
    unreliable.losing = False
    phone.run("dispatchEvent(new Event('online'))")
    phone.until(all_saved(phone, 1), "a saved answer")
    assert logged(server, 2051) == [(2051, "right", "")]


def test_the_browser_alone_knows_it_is_offline(phone: Visitor, server: Server) -> None:
    """With the phone's own connection off, answers wait, and go out by themselves once it is on."""
    begin(phone, 2061)
    off = {"offline": True, "latency": 0, "downloadThroughput": -1, "uploadThroughput": -1}
    phone._cdp("Network.enable")
    phone._cdp("Network.emulateNetworkConditions", **off)
    right(phone)
    phone.until(lambda: "wait" in phone.one("#waiting").text, "what waits")
    phone._cdp("Network.emulateNetworkConditions", **{**off, "offline": False})
    phone.until(all_saved(phone, 1), "a saved answer")
    assert logged(server, 2061) == [(2061, "right", "")]


def test_kept_screens_open_without_a_connection(phone: Visitor, server: Server) -> None:
    """Once Today was open, it, the log form and what to read tonight open without the server; an
    answer logged there is sent later. Any other screen does not pretend to be there.
    """
    paths = ["/", "/log", "/read/tonight", "/static/log.js", "/static/page.css"]
    kept = (
        "return Promise.all(arguments[0].map(p => caches.match(p))).then(all => all.every(Boolean))"
    )
    phone.open("/read/tonight")
    phone.open("/")
    phone.until(lambda: phone.run(kept, paths), "the screens to be kept")
    with phone.without_connection():
        for path, said in (("/", "Today"), ("/read/tonight", "read"), ("/log", "Log")):
            phone.open(path)
            assert said in phone.one("h1").text
        phone.one("#item").clear()
        phone.one("#item").send_keys("2301")
        right(phone)
        phone.until(lambda: "wait" in phone.one("#waiting").text, "what waits")
        phone.open("/progress")
        assert not phone.all("nav")
    phone.open("/")
    phone.until(lambda: logged(server, 2301) == [(2301, "right", "")], "a saved answer")


def test_a_note_typed_without_connection_is_kept(phone: Visitor, server: Server) -> None:
    """A note whose saving fails stays in its field and is saved when the connection is back."""
    begin(phone, 2071)
    wrong(phone)
    phone.until(all_saved(phone, 1), "a saved answer")
    text = "Cold agglutinins clump below body warmth"
    with phone.without_connection():
        phone.one("#body").send_keys(text)
        phone.one("#note button[type=submit]:not([disabled]):not(.second)").click()
        phone.until(lambda: "Waiting for a connection" in phone.one("#miss").text, "what waits")
        assert phone.one("#body").get_attribute("value") == text
    phone.run("dispatchEvent(new Event('online'))")
    phone.until(lambda: phone.all(".done"), "what was done")
    written = [p for p in server.root.glob("*/*.md") if text in p.read_text("utf-8")]
    assert len(written) == 1
    assert "harbour:2071" in written[0].read_text("utf-8")


def tab_to(visitor: Visitor, css: str) -> None:
    """Press Tab until something has the focus."""
    for _ in range(60):
        visitor.press(Keys.TAB)
        if visitor.run("return document.activeElement.matches(arguments[0])", css):
            return
    raise AssertionError(f"Tab never comes to {css}")


def test_keys_alone_log_and_write(visitor: Visitor, server: Server) -> None:
    """Without mouse or touch one logs a right and a wrong answer and writes the note."""
    visitor.open("/log?source=harbour&item=2081")
    tab_to(visitor, "#item")
    visitor.press(Keys.ENTER)
    visitor.press(Keys.ENTER)
    visitor.until(all_saved(visitor, 1), "a saved answer")
    settle(visitor)
    tab_to(visitor, "#wrong > summary")
    visitor.press(Keys.ENTER)
    visitor.until(
        lambda: visitor.run("return document.activeElement.name === 'reason'"), "the reasons"
    )
    visitor.press(Keys.TAB, Keys.ENTER)
    visitor.until(all_saved(visitor, 2), "two saved answers")
    tab_to(visitor, "#body")
    visitor.press("Saddle numbness is an emergency whatever the reflexes say")
    tab_to(visitor, "#note button:not(.second)")
    visitor.press(Keys.ENTER)
    visitor.until(lambda: visitor.all(".done"), "what was done")
    assert [row[:2] for row in logged(server, 2081)] == [(2081, "right"), (2082, "wrong")]
    written = [p.read_text("utf-8") for p in server.root.glob("*/*.md")]
    assert any("Saddle numbness" in text and "harbour:2082" in text for text in written)


def test_without_scripts_one_can_log_and_write(phone: Visitor, server: Server) -> None:
    """The plain forms do the same: a right answer, a wrong one, and its note."""
    phone.scripts(allowed=False)
    begin(phone, 2091)
    phone.leave(lambda: right(phone))
    assert item(phone) == "2092"
    phone.leave(lambda: wrong(phone, "switched"))
    assert item(phone) == "2093"
    phone.one("#body").send_keys("Wernicke first, glucose after")
    phone.leave(phone.one("#note button[type=submit]:not([disabled]):not(.second)").click)
    assert logged(server, 2091) == [(2091, "right", ""), (2092, "wrong", "switched")]
    written = [p.read_text("utf-8") for p in server.root.glob("*/*.md")]
    assert any("Wernicke first" in text and "harbour:2092" in text for text in written)


def test_all_that_waited_goes_out_however_much_it_is(phone: Visitor, server: Server) -> None:
    """A night's answers, more than are sent at once, are sent one lot after the other."""
    begin(phone, 2101)
    phone.run(
        """
        const base = document.documentElement.dataset.base;
        for (let n = 0; n < 53; n++) {
          const entry = {entry: `${n}`.padStart(32, "0"), at: "2027-04-05T08:00:00+00:00", order: n,
            source: "harbour", item: `${2101 + n}`, outcome: "right", round: "", area: ""};
          localStorage.setItem(`missbook-${base}-${entry.entry}`, JSON.stringify(entry));
        }
        """
    )
    phone.open("/log")
    phone.until(lambda: phone.run("return localStorage.length") == 0, "nothing that waits")
    wanted = {f"harbour:{2101 + n}" for n in range(53)}
    assert wanted <= {row["question"] for row in answers(server)}


def test_what_waits_for_one_miss_is_not_done_to_the_next(phone: Visitor, server: Server) -> None:
    """A miss set aside while the connection is lost is the one set aside when it is back."""
    begin(phone, 2161)
    wrong(phone)
    phone.until(all_saved(phone, 1), "a saved answer")
    with phone.without_connection():
        phone.run("document.querySelector('#miss form.aside').closest('details').open = true")
        phone.one("#miss form.aside button").click()
        phone.until(lambda: "Waiting for a connection" in phone.one("#miss").text, "what waits")
        wrong(phone)
        settle(phone)
    phone.run("dispatchEvent(new Event('online'))")
    phone.until(lambda: phone.all(".done"), "what was done")
    aside = {row["question"] for row in answers(server) if row["outcome"] == "aside"}
    assert aside & {"harbour:2161", "harbour:2162"} == {"harbour:2161"}


def test_a_link_that_waits_outlives_the_list_it_stood_in(phone: Visitor, server: Server) -> None:
    """Typing on may take the note off the list; what was touched is linked all the same."""
    begin(phone, 2171)
    wrong(phone)
    phone.until(all_saved(phone, 1), "a saved answer")
    phone.one("#body").send_keys("Potassium and the ECG")
    phone.until(lambda: phone.all("#miss .near li button"), "notes that may cover it")
    path = phone.all("#miss .near li button")[0].get_attribute("value")
    with phone.without_connection():
        phone.all("#miss .near li button")[0].click()
        phone.until(lambda: "Waiting for a connection" in phone.one("#miss").text, "what waits")
        phone.run("document.querySelector('#miss .near ul').replaceChildren()")
    phone.run("dispatchEvent(new Event('online'))")
    phone.until(lambda: phone.all(".done"), "what was done")
    assert "harbour:2171" in (server.root / path).read_text("utf-8")
