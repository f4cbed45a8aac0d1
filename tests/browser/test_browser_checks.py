"""Each thing asked of every page can fail, shown on a page that is wrong in every way."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from flask import Flask

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from serving import Server
    from visitor import Visitor

pytestmark = pytest.mark.browser

GOOD = """<!doctype html><html lang="en-GB"><head><meta charset="utf-8">
<meta name="viewport" content="width=device-width"><title>Good</title><style>
:focus-visible {outline: 3px solid #16324f} main a, button {display: block; min-height: 44px}
</style></head><body><main><h1>Good</h1><a href="/good">One more</a>
<p>A <a href="/good">link in text</a> may be as high as its line.</p>
<button>Press</button></main></body></html>"""
BAD = """<!doctype html><html><head><meta charset="utf-8"><title></title><style>
* {outline: none !important} body {width: 900px}</style></head><body>
<a href="/good">low</a><img src="http://127.0.0.2:9/picture.png"><button tabindex="-1">no</button>
<a style="position: absolute; left: -9999px" href="/good">lost</a>
<script>window.ran = true; missing()</script></body></html>"""


@pytest.fixture(scope="module")
def plain(serve: Callable[..., Server], tmp_path_factory: pytest.TempPathFactory) -> Server:
    """One page that is right and one that is wrong."""
    root: Path = tmp_path_factory.mktemp("plain")
    app = Flask("plain")
    app.add_url_rule("/good", "good", lambda: GOOD)
    app.add_url_rule("/bad", "bad", lambda: BAD)
    app.add_url_rule("/favicon.ico", "icon", lambda: "")
    return serve(lambda _port: app, root)


@pytest.fixture
def guest(visit: Callable[[Server], Visitor], plain: Server) -> Visitor:
    """A visitor of these pages."""
    return visit(plain)


def test_a_sound_page_passes_everything(guest: Visitor) -> None:
    """Nothing is found where nothing is wrong."""
    guest.narrow()
    guest.open("/good")
    assert guest.console_errors() == []
    assert guest.foreign_requests() == []
    assert guest.small_targets() == []
    assert guest.sideways() == []
    assert guest.accessibility() == []
    stops = guest.tab_through()
    assert (len(stops["order"]), stops["missed"], stops["unseen"]) == (3, [], [])


def test_an_unsound_page_fails_everything(guest: Visitor) -> None:
    """Every check finds the fault that was put there for it."""
    guest.narrow()
    guest.open("/bad")
    assert any("missing is not defined" in line for line in guest.console_errors())
    assert guest.foreign_requests() == ["http://127.0.0.2:9/picture.png"]
    assert any("'low'" in line for line in guest.small_targets())
    assert guest.sideways() != []
    assert any(line.startswith("image-alt") for line in guest.accessibility())
    assert len(guest.tab_through()["unseen"]) == 2


def test_scripts_can_be_forbidden(guest: Visitor) -> None:
    """A page looked at without JavaScript runs none."""
    guest.scripts(allowed=False)
    guest.open("/bad")
    assert guest.run("return window.ran") is None
    assert "low" in guest.text


def test_a_server_can_go_and_come_back(guest: Visitor) -> None:
    """What the tests call a lost connection is one."""
    guest.open("/good")
    ask = "const d = arguments[0]; fetch('/good').then(r => d(r.status), () => d('lost'))"
    with guest.without_connection():
        assert guest.driver.execute_async_script(ask) == "lost"
    assert guest.driver.execute_async_script(ask) == 200
