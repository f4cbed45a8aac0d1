"""One browser for the whole run, and the demo base served as it is in earnest."""

from __future__ import annotations

import importlib
import shutil
import sys
from typing import TYPE_CHECKING, Any

import pytest
from serving import KEY, NOON, ROOT, Server
from visitor import Visitor

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    from selenium.webdriver.chrome.webdriver import WebDriver


# The browser's clock tells the moment that the server's does.
SAME_MOMENT = """
(() => {
  const Real = Date, ahead = %d - Real.now();
  window.Date = class extends Real {
    constructor(...given) { given.length ? super(...given) : super(Real.now() + ahead); }
    static now() { return Real.now() + ahead; }
  };
})();
"""


def find_browser() -> Any:
    """The script that finds a browser and installs one where it may."""
    folder = str(ROOT / "scripts")
    if folder not in sys.path:
        sys.path.insert(0, folder)
    return importlib.import_module("find_browser")


@pytest.fixture(scope="session")
def driver(tmp_path_factory: pytest.TempPathFactory) -> Iterator[WebDriver]:
    """A browser with an empty profile, started once: starting is what takes long."""
    finding = find_browser()
    found = finding.find()
    if found is None:
        if finding.required():
            pytest.fail(finding.MISSING)
        pytest.skip(finding.MISSING)
    browser = finding.start(found, tmp_path_factory.mktemp("profile"))
    shifted = SAME_MOMENT % (NOON.timestamp() * 1000)
    browser.execute_cdp_cmd("Page.addScriptToEvaluateOnNewDocument", {"source": shifted})
    yield browser
    browser.quit()


@pytest.fixture(scope="module")
def serve() -> Iterator[Callable[..., Server]]:
    """Serve an application until the module's tests are over."""
    running: list[Server] = []

    def start(make: Callable[[int], Any], root: Path, **settings: Any) -> Server:
        running.append(Server(make, root, **settings))
        return running[-1]

    yield start
    for server in running:
        server.stop()


@pytest.fixture(scope="module")
def demo_server(
    tmp_path_factory: pytest.TempPathFactory, serve: Callable[..., Server]
) -> Callable[..., Server]:
    """Serve a fresh copy of the demo base on its fixed day; `files` are laid over it."""

    def start(files: dict[str, str | bytes] | None = None, **settings: Any) -> Server:
        from kb.web.app import create_app

        further = {"lan": settings.pop("lan")} if "lan" in settings else {}
        root = tmp_path_factory.mktemp("served") / "notes"
        ignored = shutil.ignore_patterns(".missbook", ".lock")
        shutil.copytree(ROOT / "notes", root, ignore=ignored)
        for path, content in (files or {}).items():
            target = root / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content.encode() if isinstance(content, str) else content)

        def make(port: int) -> Any:
            app = create_app(root, clock=lambda: NOON, device="page", port=port, key=KEY, **further)
            app.extensions["missbook"].borrow(waits=True)  # no screen says that it is being read
            app.extensions["missbook"].give_back()
            return app

        return serve(make, root, keyed="lan" not in further, **settings)

    return start


@pytest.fixture(scope="module")
def server(demo_server: Callable[..., Server]) -> Server:
    """The demo base, served for all tests of one module."""
    return demo_server()


@pytest.fixture
def visit(driver: WebDriver) -> Callable[[Server], Visitor]:
    """Send a visitor to a server: a laptop, light, scripts allowed, nothing left from before."""

    def begin(server: Server) -> Visitor:
        visitor = Visitor(driver, server)
        visitor.scripts(allowed=True)
        driver.get("about:blank")
        visitor._cdp("Network.clearBrowserCookies")
        visitor.take_key()
        visitor.laptop()
        visitor.scheme("light")
        visitor.console_errors()
        visitor.requests_made()
        return visitor

    return begin


@pytest.fixture
def visitor(visit: Callable[[Server], Visitor], server: Server) -> Visitor:
    """A visitor of the demo base."""
    return visit(server)
