"""Take pictures of every screen of the page, on the demo base.

    python scripts/screenshots.py FOLDER [WORD ...]

Each screen is taken on a phone (390x844) and a laptop (1366x768), light and dark, on a phone as its
browser's bars leave it (390x664, what is seen before scrolling), and on a sheet of A4. With words,
only screens whose address contains one of them are taken.
"""

from __future__ import annotations

import argparse
import base64
import importlib
import re
import shutil
import sys
import tempfile
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import find_browser

ROOT = Path(__file__).resolve().parent.parent
NOON = datetime(2027, 4, 5, 12, tzinfo=UTC)
SIZES = {"phone": (390, 844), "small": (390, 664), "laptop": (1366, 768), "paper": (794, 1123)}
SCHEMES = {"small": ("light",), "paper": ("print",)}
"""Light and dark, where nothing is said."""
TALLEST_PX = 2400
PICTURES = """
const done = arguments[0], all = [...document.images].filter(i => i.checkVisibility());
all.forEach(i => { i.loading = 'eager'; });
requestAnimationFrame(() => setTimeout(() =>
  Promise.allSettled(all.map(i => i.decode())).then(() => requestAnimationFrame(done)), 400));
"""
"""Waits for pictures, which are otherwise fetched only when one gets there, and for late parts."""


def main() -> int:
    """Take the pictures; status 1 without a browser, 2 without a folder."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("folder", type=Path, metavar="FOLDER")
    parser.add_argument("words", nargs="*", metavar="WORD", help="part of a screen's address")
    asked = parser.parse_args()
    browser = find_browser.find()
    if browser is None:
        print(find_browser.MISSING, file=sys.stderr)
        return 1
    asked.folder.mkdir(parents=True, exist_ok=True)
    sys.path.insert(0, str(ROOT / "tests" / "browser"))
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as folder:
        server = _served(Path(folder))
        driver = find_browser.start(browser, Path(folder) / "profile")
        try:
            _take(driver, server, asked.folder, asked.words)
        finally:
            driver.quit()
            server.stop()
    return 0


def _served(folder: Path) -> Any:  # noqa: ANN401 - a module of the tests
    """Serve a copy of the demo base on its fixed day."""
    from kb.web.app import create_app

    serving: Any = importlib.import_module("serving")
    root = folder / "notes"
    shutil.copytree(ROOT / "notes", root, ignore=shutil.ignore_patterns(".missbook", ".lock"))

    def make(port: int) -> Any:  # noqa: ANN401
        key = serving.KEY
        return create_app(root, clock=lambda: NOON, device="page", port=port, key=key)

    return serving.Server(make, root)


def _take(driver: Any, server: Any, target: Path, words: list[str]) -> None:  # noqa: ANN401
    screens: Any = importlib.import_module("screens")
    visitor = importlib.import_module("visitor").Visitor(driver, server)
    visitor.take_key()
    every = dict.fromkeys((*screens.MAIN, *screens.reports()))
    chosen = [path for path in every if not words or any(word in path for word in words)]
    for path in chosen:
        name = re.sub(r"[^a-z0-9]+", "-", path.lower()).strip("-") or "today"
        for size, (width, height) in SIZES.items():
            visitor.screen(width, height, touch=width < 400)
            visitor.open(path)
            for scheme in SCHEMES.get(size, ("light", "dark")):
                _show_as(driver, scheme)
                driver.execute_async_script(PICTURES)
                tallest = height if size == "small" else TALLEST_PX
                (target / f"{name}-{size}-{scheme}.png").write_bytes(_picture(driver, tallest))
        print(path, flush=True)


def _show_as(driver: Any, scheme: str) -> None:  # noqa: ANN401
    """Light, dark or printed."""
    features = [{"name": "prefers-color-scheme", "value": "dark" if scheme == "dark" else "light"}]
    media = {"media": "print" if scheme == "print" else "", "features": features}
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", media)


def _picture(driver: Any, tallest: int) -> bytes:  # noqa: ANN401
    """The page from its top as PNG, cropped to a height that can still be viewed."""
    measures = driver.execute_cdp_cmd("Page.getLayoutMetrics", {})["cssContentSize"]
    height = min(measures["height"], tallest)
    area = {"x": 0, "y": 0, "width": measures["width"], "height": height, "scale": 1}
    wanted = {"format": "png", "captureBeyondViewport": True, "clip": area}
    return base64.b64decode(driver.execute_cdp_cmd("Page.captureScreenshot", wanted)["data"])


if __name__ == "__main__":
    sys.exit(main())
