"""Find a browser and its driver for the browser tests; on Debian install them where missing.

Other systems use what is installed; no browser is downloaded.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

PACKAGES = ("chromium", "chromium-driver")
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome")
EDGES = ("microsoft-edge", "microsoft-edge-stable", "msedge")
MAC = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
)
MAC_EDGE = ("/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",)
WINDOWS = ("Google/Chrome/Application/chrome.exe", "Chromium/Application/chrome.exe")
WINDOWS_EDGE = ("Microsoft/Edge/Application/msedge.exe",)
WINDOWS_FOLDERS = ("PROGRAMFILES", "PROGRAMFILES(X86)", "LOCALAPPDATA")
MISSING = (
    "no browser with its driver was found: install Chromium or Chrome and chromedriver"
    " (Edge and msedgedriver), with the driver on PATH"
)


FLAGS = (
    "--headless=new",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--disable-dev-shm-usage",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-default-apps",
    "--disable-extensions",
    "--disable-sync",
    "--force-color-profile=srgb",
    "--hide-scrollbars",
    "--lang=en-GB",
    "--no-default-browser-check",
    "--no-first-run",
)
"""The browser keeps to the page: nothing of its own is looked up or brought up to date."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Browser:
    """The programs of a browser and of its driver."""

    program: Path
    driver: Path


def required() -> bool:
    """Whether a missing browser is a failure rather than a reason to skip."""
    return bool(os.environ.get("CI")) or os.environ.get("MISSBOOK_BROWSER") == "required"


def find() -> Browser | None:
    """The first browser found with its driver, Chromium and Chrome before Edge."""
    for programs, driver in (
        ((*BROWSERS, *MAC, *_windows(WINDOWS)), "chromedriver"),
        ((*EDGES, *MAC_EDGE, *_windows(WINDOWS_EDGE)), "msedgedriver"),
    ):
        program = next((path for name in programs if (path := shutil.which(name))), None)
        steers = shutil.which(driver)
        if program and steers:
            return Browser(program=Path(program), driver=Path(steers))
    return None


def start(browser: Browser, profile: Path) -> Any:  # noqa: ANN401 - typed by its library
    """Start a headless browser with an empty profile, steered by its driver.

    The driver's path is given, so that the library neither searches nor downloads.
    """
    from selenium import webdriver
    from selenium.webdriver.chrome.service import Service as ChromeService
    from selenium.webdriver.edge.service import Service as EdgeService

    edge = "edge" in browser.driver.name
    options: Any = webdriver.EdgeOptions() if edge else webdriver.ChromeOptions()
    options.binary_location = str(browser.program)
    for flag in (*FLAGS, f"--user-data-dir={profile}"):
        options.add_argument(flag)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
    if edge:
        return webdriver.Edge(options=options, service=EdgeService(str(browser.driver)))
    return webdriver.Chrome(options=options, service=ChromeService(str(browser.driver)))


def _windows(paths: tuple[str, ...]) -> tuple[str, ...]:
    """Possible places of a program on Windows, in each of its program folders."""
    folders = [os.environ[name] for name in WINDOWS_FOLDERS if os.environ.get(name)]
    return tuple(str(Path(folder) / path) for folder in folders for path in paths)


def install() -> str:
    """Install Debian's packages; returns what went wrong, or nothing."""
    apt = shutil.which("apt-get")
    if apt is None:
        return "there is no apt-get"
    steps = (["update"], ["install", "--yes", "--no-install-recommends", *PACKAGES])
    options = ["-qq", "-o", "Dpkg::Use-Pty=0", "-o", "DPkg::Lock::Timeout=120"]
    command = [apt, *options] if _is_root() else ["sudo", "-n", apt, *options]
    surroundings = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    for step in steps:
        try:
            done = subprocess.run(
                [*command, *step],
                check=False,
                capture_output=True,
                stdin=subprocess.DEVNULL,
                text=True,
                errors="replace",
                env=surroundings,
            )
        except OSError:
            return "apt-get needs root or sudo"
        if done.returncode:
            said = [line for line in done.stderr.splitlines() if line.strip()]
            return f"apt-get {step[0]}: {said[-1] if said else 'failed'}"
    return ""


def _is_root() -> bool:
    asks = getattr(os, "geteuid", None)  # Windows has none
    return asks is not None and asks() == 0


def main() -> int:
    """Make sure there is a browser; exit status 1 with one line if a required one is missing."""
    if find():
        return 0
    trouble = ""
    if shutil.which("apt-get"):
        print("    installing chromium and chromium-driver", flush=True)
        trouble = install()
        if find():
            return 0
    reason = f"{MISSING} ({trouble})" if trouble else MISSING
    if required():
        print(reason, file=sys.stderr)
        return 1
    print(f"    the browser tests will be skipped: {reason}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
