"""Small bases written in the test, one fixed day, and golden files with an update switch."""

from __future__ import annotations

import shutil
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from click.testing import CliRunner
from hypothesis import settings

from kb.cli import main
from kb.services.session import Session

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

    from click.testing import Result
    from web_client import Browser

    from kb.core.model import Base

settings.register_profile("same-every-time", deadline=None, derandomize=True)
settings.register_profile("explore", deadline=None, max_examples=300)
settings.load_profile("same-every-time")

GOLDEN = Path(__file__).parent / "golden"
TODAY = date(2027, 2, 14)
DEMO = Path(__file__).parent.parent / "notes"
DEMO_DAY = date(2027, 4, 5)

EXAM = """\
exam: The Quill Examination
date: 2027-05-11
blueprint:
  - {area: cardiology, name: Cardiology, items: 80}
  - {area: nephrology, name: Nephrology, items: 70}
  - {area: neurology, name: Neurology, items: 50}
"""
STUDY = """\
timezone: Europe/London
sources:
  - source: north
    kind: bank
    items: 300
    areas: {1-100: cardiology, 101-200: nephrology, 201-300: neurology}
  - {source: paper-1, kind: paper, items: 200}
"""


def whole(root: Path) -> Base:
    """The base in a folder, not cut to any day."""
    return Session(root, now=datetime.combine(TODAY, time(12), UTC), device="test").whole


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the switch that rewrites golden files."""
    parser.addoption("--update-golden", action="store_true", help="rewrite golden files")


@pytest.fixture(autouse=True, scope="session")
def _own_cache(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    """Keep the tests' derived files away from those of the person running them."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("MISSBOOK_CACHE", str(tmp_path_factory.mktemp("cache")))
        yield


@pytest.fixture(autouse=True)
def _own_surroundings(monkeypatch: pytest.MonkeyPatch) -> None:
    """Hide the settings of the machine from every test."""
    monkeypatch.delenv("MISSBOOK_BASE", raising=False)
    monkeypatch.setenv("MISSBOOK_DEVICE", "test")
    monkeypatch.delenv("EDITOR", raising=False)
    monkeypatch.delenv("VISUAL", raising=False)
    monkeypatch.setenv("COLUMNS", "80")


@pytest.fixture
def today() -> date:
    """The day on which every test takes place."""
    return TODAY


@pytest.fixture
def base(tmp_path: Path) -> Callable[..., Path]:
    """Write a base from files by path, with a default exam.yaml and study.yaml."""

    def write(files: Mapping[str, str | bytes] | None = None) -> Path:
        root = tmp_path / "base"
        everything: dict[str, str | bytes] = {"exam.yaml": EXAM, "study.yaml": STUDY}
        everything.update(files or {})
        for path, content in everything.items():
            target = root / path
            target.parent.mkdir(parents=True, exist_ok=True)
            raw = content.encode() if isinstance(content, str) else content
            target.write_bytes(raw)
        return root

    return write


@pytest.fixture
def session(base: Callable[..., Path], today: date) -> Callable[..., Session]:
    """Open a session on a base of these files, on the fixed day unless another is given."""

    def start(files: Mapping[str, str | bytes] | None = None, on: date = today) -> Session:
        now = datetime.combine(on, time(12), UTC)
        return Session(base(files), now=now, device="test")

    return start


@pytest.fixture
def beside(
    base: Callable[..., Path], monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> Callable[..., Callable[..., Result]]:
    """Run missbook from a folder next to a base of these files, on the fixed day by default."""

    def start(
        files: Mapping[str, str | bytes] | None = None, *before: str, on: date = TODAY
    ) -> Callable[..., Result]:
        monkeypatch.setenv("MISSBOOK_BASE", str(base(files)))
        monkeypatch.chdir(tmp_path)

        def run(*arguments: str, text: str | None = None, as_of: date = on) -> Result:
            given = [*before, *arguments, "--as-of", as_of.isoformat()]
            return CliRunner().invoke(main, given, input=text)

        return run

    return start


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Session:
    """A session on a copy of the demo base, on the demo's last day."""
    root = tmp_path_factory.mktemp("demo") / "notes"
    shutil.copytree(DEMO, root, ignore=shutil.ignore_patterns(".*"))
    now = datetime.combine(DEMO_DAY, time(12), UTC)
    return Session(root, now=now, device="test", as_of=DEMO_DAY)


@pytest.fixture
def browser(base: Callable[..., Path], today: date) -> Callable[..., Browser]:
    """A browser on the page of a base of these files, on the fixed day by default."""
    from web_client import Browser

    def start(
        files: Mapping[str, str | bytes] | None = None, on: date = today, **more: object
    ) -> Browser:
        return Browser(base(files), on, **more)

    return start


class Golden:
    """Compare with a file under tests/golden, or write it with --update-golden."""

    def __init__(self, update: bool) -> None:
        self.update = update

    def check(self, name: str, actual: str) -> None:
        """Fail unless `actual` is exactly what the golden file `name` holds."""
        path = GOLDEN / name
        if self.update:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_bytes(actual.encode())
        expected = path.read_bytes().decode() if path.exists() else ""
        assert actual == expected, f"differs from {path.name}; see it with --update-golden"


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Golden:
    """The golden files, checked or rewritten as the switch says."""
    return Golden(bool(request.config.getoption("--update-golden")))
