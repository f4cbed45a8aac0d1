"""What a person does with a page, and what is asked of every page they see."""

from __future__ import annotations

import json
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlsplit

from selenium.common.exceptions import TimeoutException
from selenium.webdriver.common.action_chains import ActionChains
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from selenium.webdriver.chrome.webdriver import WebDriver
    from selenium.webdriver.remote.webelement import WebElement
    from serving import Server

ENGINE = Path(__file__).parent.parent.parent / ".cache" / "axe-4.12.1.js"
RULES = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice")
TARGET_PX = 44
PATIENCE_S = 30
OWN = ("data", "blob", "about", "chrome", "devtools")

# What can be touched and is lower than the measure; a link within running text may be.
SMALL_TARGETS = """
const least = arguments[0], found = [];
const inText = link => {
  const block = link.closest('p, li, dd, td, th, figcaption, blockquote, label, footer');
  if (!block) return false;
  const rest = block.cloneNode(true);
  rest.querySelectorAll('a').forEach(a => a.remove());
  return getComputedStyle(link).display === 'inline' && /[\\p{L}\\p{N}]/u.test(rest.textContent);
};
for (const thing of document.querySelectorAll(
    'a[href], button, input:not([type=hidden]), select, textarea, summary')) {
  const label = thing.matches('[type=radio], [type=checkbox]')
    ? thing.closest('label') || (thing.id && document.querySelector(`label[for="${thing.id}"]`))
    : null;
  if (!thing.checkVisibility()) continue;
  const box = (label || thing).getBoundingClientRect();
  if (!box.width || !box.height || box.bottom + scrollY <= 0 || box.right <= 0) continue;
  if (thing.matches('a') && inText(thing)) continue;
  if (box.height < least - 0.5)
    found.push(`${thing.tagName.toLowerCase()} '${(thing.innerText || thing.name || thing.id)
      .trim().slice(0, 40)}' ${box.height.toFixed(0)} px`);
}
return found;
"""
SIDEWAYS = """
const root = document.documentElement, wide = arguments[0];
const others = 'main :not(pre, textarea, .note *, .text *)';
const inside = [...document.querySelectorAll(others)].filter(e =>
  e.scrollWidth > e.clientWidth + 1
  && ['auto', 'scroll'].includes(getComputedStyle(e).overflowX));
if (root.scrollWidth <= wide) return inside.map(
  e => `${e.scrollWidth} px in ${e.clientWidth}: ${e.textContent.trim().slice(0, 60)}`);
const guilty = [...document.body.querySelectorAll('*')].filter(
  e => e.getBoundingClientRect().right > wide + 1);
return [`${root.scrollWidth} px on a screen of ${wide} px`].concat(
  guilty.slice(0, 4).map(e => `<${e.tagName.toLowerCase()} class="${e.className}"> ` +
    e.textContent.trim().slice(0, 40)));
"""
# Words of labels that are broken in two, as if each half were a word.
BROKEN = """
const words = /(?<![\\p{L}\\d])[\\p{L}\\d]{2,12}(?![\\p{L}\\d])/gu, range = document.createRange();
return [...document.querySelectorAll('dt, th, label, legend, button')].filter(e =>
  e.checkVisibility() && e.childElementCount === 0 && e.firstChild).flatMap(e =>
  [...e.textContent.matchAll(words)].filter(({0: word, index}) => {
    range.setStart(e.firstChild, index);
    range.setEnd(e.firstChild, index + word.length);
    return new Set([...range.getClientRects()].map(r => Math.round(r.top))).size > 1;
  }).map(found => `'${found[0]}' is broken in two`));
"""
# Records where Tab goes, and whether one can see it there.
TAB_STOPS = """
window.tabStops = [];
document.addEventListener('focusin', ({target}) => {
  const style = getComputedStyle(target), box = target.getBoundingClientRect();
  window.tabStops.push({
    element: target,
    ring: style.outlineStyle === 'none' ? 0 : parseFloat(style.outlineWidth),
    seen: box.bottom > 0 && box.right > 0 && box.top < innerHeight && box.left < innerWidth,
  });
});
"""
UNCOVER = """
const box = arguments[0].getBoundingClientRect(), bar = document.querySelector('header');
if (bar && getComputedStyle(bar).position === 'fixed'
    && box.bottom > bar.getBoundingClientRect().top)
  arguments[0].scrollIntoView({block: 'center'});
"""
FOCUSABLE = """
const radios = new Set();
return [...document.querySelectorAll(
    'a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex="0"]')]
  .filter(e => !e.disabled && e.checkVisibility() && e.getClientRects().length && e.tabIndex >= 0)
  .filter(e => {  // one stop for a group of radio buttons
    if (e.type !== 'radio') return true;
    const group = (e.form && e.form.id) + e.name;
    return !radios.has(group) && radios.add(group);
  });
"""
REPORT_STOPS = """
const name = e => `${e.tagName.toLowerCase()} '${(e.innerText || e.name || e.id || '')
  .trim().slice(0, 40)}'`;
const group = e => e.type === 'radio' ? (e.form && e.form.id) + e.name : e;
const stops = window.tabStops, reached = new Set(stops.map(s => group(s.element)));
return {
  missed: arguments[0].filter(e => !reached.has(group(e))).map(name),
  unseen: stops.filter(s => s.ring < 2 || !s.seen).map(s => name(s.element)),
  order: stops.map(s => name(s.element)),
};
"""
AUDIT = """
const done = arguments[arguments.length - 1];
axe.run(document, {runOnly: arguments[0], resultTypes: ['violations']}).then(
  ({violations}) => done(violations.flatMap(v => v.nodes.map(
    n => `${v.id}: ${v.help}: ${n.target.join(' ')}: ${n.failureSummary.replace(/\\s+/g, ' ')}`))),
  error => done(['the engine failed: ' + error]));
"""


class Visitor:
    """One person in front of one page, on a phone or a laptop."""

    def __init__(self, driver: WebDriver, server: Server) -> None:
        self.driver, self.server = driver, server
        self.width = 0

    def take_key(self) -> None:
        """Have the key, as after a first visit, where visitors of this server have it."""
        name, _, value = self.server.cookie.partition("=")
        if name:
            own = {"name": name, "value": value, "url": self.server.address}
            self._cdp("Network.setCookie", **own, httpOnly=True, sameSite="Strict")

    # Devices and circumstances

    def _cdp(self, command: str, **values: Any) -> None:
        self.driver.execute_cdp_cmd(command, values)

    def screen(self, width: int, height: int, *, scale: int = 1, touch: bool = False) -> None:
        """Look through a screen of that many CSS pixels; `scale` 2 is what 200 % zoom does."""
        self.width = width
        self._cdp(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=scale,
            mobile=touch,
        )
        self._cdp("Emulation.setTouchEmulationEnabled", enabled=touch)

    def phone(self) -> None:
        """A phone held upright."""
        self.screen(390, 844, scale=2, touch=True)

    def narrow(self) -> None:
        """The narrowest screen that must do."""
        self.screen(320, 640, scale=2, touch=True)

    def tablet(self) -> None:
        """A tablet held upright."""
        self.screen(820, 1180, scale=2, touch=True)

    def laptop(self) -> None:
        """A laptop's window."""
        self.screen(1280, 800)

    def zoomed(self) -> None:
        """The laptop's window at 200 % zoom."""
        self.screen(640, 400, scale=2)

    def scheme(self, name: str) -> None:
        """The system's setting: `light` or `dark`."""
        features = [{"name": "prefers-color-scheme", "value": name}]
        self._cdp("Emulation.setEmulatedMedia", features=features)

    def scripts(self, allowed: bool) -> None:
        """Whether the page's own scripts run."""
        self._cdp("Emulation.setScriptExecutionDisabled", value=not allowed)

    @contextmanager
    def without_connection(self) -> Iterator[None]:
        """The server is out of reach meanwhile."""
        self.server.stop()
        try:
            yield
        finally:
            self.server.start()

    # Doing

    def open(self, path: str) -> None:
        """Go to a screen by its path."""
        self.driver.get(self.server.address + path)

    @property
    def path(self) -> str:
        """Where one is now, without the question mark and what follows."""
        return urlsplit(self.driver.current_url).path

    def all(self, css: str) -> list[WebElement]:
        """Every element that a CSS selector finds."""
        return self.driver.find_elements(By.CSS_SELECTOR, css)

    def one(self, css: str) -> WebElement:
        """The first element that a CSS selector finds; an error says what was on the page."""
        found = self.all(css)
        assert found, f"no {css} on {self.path}:\n{self.text[:1500]}"
        self.uncover(found[0])
        return found[0]

    def uncover(self, thing: WebElement) -> None:
        """Scroll as a person would where the navigation of a phone lies over something."""
        self.run(UNCOVER, thing)

    @property
    def text(self) -> str:
        """What can be read on the page."""
        return self.driver.find_element(By.TAG_NAME, "body").text

    def press(self, *keys: str) -> None:
        """Press keys one after the other, wherever the focus is."""
        ActionChains(self.driver, duration=0).send_keys(*keys).perform()

    def until(self, condition: Callable[[], Any], what: str) -> Any:
        """Wait until something is so; fails with `what` after some seconds."""
        waiting = WebDriverWait(self.driver, PATIENCE_S, poll_frequency=0.03)
        try:
            return waiting.until(lambda _: condition())
        except TimeoutException as error:
            # Read only now: while a page leaves there may be nothing to read.
            raise AssertionError(f"waited for: {what}; saw:\n{self.text[:1500]}") from error

    def leave(self, doing: Callable[[], object]) -> None:
        """Do something that leads to another page, and wait for that page.

        A page that says only that notes are being read, as on a busy machine, opens it by itself.
        """
        self.driver.execute_script("window.before = true")
        doing()
        ready = (
            "return !window.before && document.readyState === 'complete'"
            " && document.querySelector('h1')?.textContent !== 'One moment'"
        )
        self.until(lambda: self.driver.execute_script(ready), "another page")

    def run(self, script: str, *values: Any) -> Any:
        """What a script answers, run from outside: it works without JavaScript in the page."""
        return self.driver.execute_script(script, *values)

    # Asking

    def console_errors(self) -> list[str]:
        """What the browser complained of since last asked."""
        return [
            entry["message"]
            for entry in self.driver.get_log("browser")
            if entry["level"] in ("SEVERE", "WARNING")
        ]

    def foreign_requests(self) -> list[str]:
        """Addresses outside the server that the page asked for since last asked."""
        own = urlsplit(self.server.address).netloc
        return sorted(
            {
                url
                for url in self.requests_made()
                if urlsplit(url).scheme not in OWN and urlsplit(url).netloc != own
            }
        )

    def requests_made(self) -> list[str]:
        """Addresses that pages asked for since last asked; not those that the policy stopped."""
        found: dict[str, str] = {}
        for entry in self.driver.get_log("performance"):
            message = json.loads(entry["message"])["message"]
            event, what = message["method"], message["params"]
            if event == "Network.requestWillBeSent":
                found[what["requestId"]] = what["request"]["url"]
            elif event == "Network.webSocketCreated":
                found[what["requestId"]] = what["url"]
            elif event == "Network.loadingFailed" and what.get("blockedReason") == "csp":
                found.pop(what["requestId"], None)
        return list(found.values())

    def small_targets(self) -> list[str]:
        """What is to be touched and is not high enough for a thumb."""
        return list(self.run(SMALL_TARGETS, TARGET_PX))

    def sideways(self) -> list[str]:
        """What is wider than the screen, scrolls sideways by itself, as tables of notes may, or is
        a word of a label that had no room.
        """
        return [*self.run(SIDEWAYS, self.width), *self.run(BROKEN)]

    def accessibility(self, *rules: str) -> list[str]:
        """What the accessibility engine objects to, by all rules unless some are named."""
        if not self.run("return typeof window.axe === 'object'"):
            assert ENGINE.is_file(), "run scripts/fetch_test_data.py first, as scripts/test.py does"
            self.driver.execute_script(ENGINE.read_text(encoding="utf-8"))
        self.driver.set_script_timeout(60)
        return list(self.driver.execute_async_script(AUDIT, list(rules or RULES)))

    def tab_through(self) -> dict[str, list[str]]:
        """Press Tab from the top to the end of the page.

        Returns:
            `order` of the stops, `missed` things that no Tab reached, and stops that are `unseen`:
            outside the window or without a ring around them.
        """
        for late in self.all("[data-later]"):  # otherwise it would come while tabbing
            self.run("arguments[0].scrollIntoView()", late)
        self.until(lambda: not self.all("[data-later], .pane:empty"), "the parts that come late")
        focusable = self.run(FOCUSABLE)
        self.run("document.activeElement.blur(); scrollTo(0, 0);")
        self.run(TAB_STOPS)
        parts = 3 * sum(e.get_attribute("type") == "date" for e in focusable)  # day, month, year
        self.press(*["\ue004"] * (len(focusable) + parts + 1))
        return dict(self.run(REPORT_STOPS, focusable))
