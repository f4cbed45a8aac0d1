"""A base that somebody else has written: whatever it holds is shown as text, and nothing runs."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING
from urllib.parse import quote

import pytest
from wire import ask

if TYPE_CHECKING:
    from collections.abc import Callable

    from serving import Server
    from visitor import Visitor

pytestmark = pytest.mark.browser

RUN = "window.ran=(window.ran||0)+1"
TAG = f"<script>{RUN}</script>"
PICTURE = f'<img src=x onerror="{RUN}">'
BREAK = f'"><svg onload="{RUN}">'
AWAY = "http://127.0.0.2:9"
BODY = f"""\
{TAG}

{PICTURE} and {BREAK}

<iframe src="javascript:{RUN}"></iframe><style>body {{ display: none }}</style>
<form action="{AWAY}/form"><input name=x></form><base href="{AWAY}/">
<meta http-equiv="refresh" content="0;url={AWAY}">

# {TAG}

[one](javascript:{RUN}) [two](JaVaScRiPt:{RUN}) [three](data:text/html,{quote(TAG)})
[four](vbscript:x) [five]( java&#10;script:{RUN} ) <javascript:{RUN}>
![far]({AWAY}/far.png) ![near](near.svg) ![words](x" onerror="{RUN})
![data](data:image/svg+xml,{quote(TAG)})
[away]({AWAY}/page) [beside]({AWAY.removeprefix("http:")}/x)

```{TAG}
{TAG}
```

| {TAG} | b |
|---|---|
| {PICTURE} | {BREAK} |

&lt;script&gt;{RUN}&lt;/script&gt; {{{{ 7*7 }}}} {{% raw %}}
"""
HEAD = f"""\
---
title: '{TAG} sentinel note {BREAK}'
area: nephrology
concepts: ['{TAG}', '{BREAK}']
questions: [north:1490, "north:{PICTURE.replace('"', "'")}"]
basis: '{TAG}{PICTURE}'
checked: 2027-01-02
---
"""
SVG = (
    '<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"'
    f' onload="{RUN}"><script>{RUN}</script>'
    f'<image href="{AWAY}/in.png" width="9" height="9"/></svg>'
)
LOG = (
    "id,at,question,area,concept,outcome,chosen,key,certainty,seconds,reason,round,sitting,remark\n"
)
LINE = (
    "ev{n:014d},2027-04-04T1{n}:00:00+00:00,north:1490,nephrology,{tag},wrong,{tag},{tag},,30,"
    'unknown,first,,"sentinel {tag} {picture} {away}"\n'
)
CARRIED = (
    "/",
    "/log",
    f"/find?words={quote(TAG)}",
    f"/find?words={quote(BREAK)}",
    "/find?words=sentinel",
    "/note/nephrology/sentinel.md",
    "/note/nephrology/sentinel.md/edit",
    f"/note/{quote(TAG)}",
    f"/area/{quote(BREAK)}",
    "/area/nephrology",
    f"/report/{quote(PICTURE)}",
    f"/report/queue?{quote(BREAK)}=1",
    f"/report/queue?limit={quote(BREAK)}",
    f"/log?source={quote(BREAK)}&question={quote(TAG)}",
    f"/sittings/{quote(BREAK)}",
    "/report/gaps",
    "/report/queue?limit=300",
    "/report/check",
    "/report/mixups",
    "/report/history?words=sentinel",
    "/report/map?words=sentinel",
)


@pytest.fixture(scope="module")
def hostile(demo_server: Callable[..., Server]) -> Server:
    """The demo base with a note, a log, an image and a page that mean harm."""
    rows = [
        LINE.format(n=n, tag=tag, picture=PICTURE.replace('"', "'"), away=AWAY)
        for n, tag in enumerate((TAG, TAG, PICTURE.replace('"', "'")))
    ]
    files: dict[str, str | bytes] = {
        "nephrology/sentinel.md": HEAD + BODY,
        "nephrology/near.svg": SVG,
        "nephrology/page.html": f"<!doctype html><title>x</title>{TAG}",
        "nephrology/code.js": RUN,
        "log/attempts-stranger.csv": LOG + "".join(rows),
    }
    if os.name != "nt":  # Windows allows no such name
        files[f"nephrology/{PICTURE.replace('/', '')}{BREAK.replace('/', '')}.md"] = HEAD + BODY
    return demo_server(files)


@pytest.fixture
def reader(visit: Callable[[Server], Visitor], hostile: Server) -> Visitor:
    """A visitor of that base."""
    return visit(hostile)


@pytest.mark.parametrize("path", CARRIED)
def test_nothing_in_a_base_or_an_address_runs(reader: Visitor, path: str) -> None:
    """No script of a note, title, concept, remark, file name or search runs or calls outside."""
    reader.open(path)
    assert reader.run("return window.ran || 0") == 0
    assert reader.foreign_requests() == []
    assert [e for e in reader.console_errors() if "Content Security Policy" in e] == []
    inert = """return [...document.querySelectorAll('*')].filter(
      e => ['IFRAME', 'OBJECT', 'EMBED', 'BASE'].includes(e.tagName)
        || (e.tagName === 'SCRIPT' && !e.src.startsWith(location.origin + '/static/'))
        || [...e.attributes].some(a => a.name.startsWith('on') ||
          /^\\s*(javascript|data|vbscript):/i.test(a.value))).map(e => e.outerHTML)"""
    assert reader.run(inert) == []
    assert reader.one("main").is_displayed()


@pytest.mark.parametrize("room", ["/note", "/file"])
@pytest.mark.parametrize("name", ["near.svg", "page.html", "code.js"])
def test_no_file_of_a_base_runs_by_itself(reader: Visitor, room: str, name: str) -> None:
    """Opened directly, an image or page of the base runs no script and calls nobody."""
    reader.open(f"{room}/nephrology/{name}")
    assert reader.run("return window.ran || 0") == 0
    assert reader.foreign_requests() == []


def test_the_page_takes_no_file_of_a_base_for_a_script(hostile: Server) -> None:
    """What a note's folder holds is handed out as a picture or not at all."""
    for name in ("page.html", "code.js", "sentinel.md"):
        assert ask(hostile, f"/file/nephrology/{name}").status == 404
    assert ask(hostile, "/file/nephrology/near.svg").header("Content-Type").startswith("image/")


def test_a_picture_beside_a_note_is_shown(reader: Visitor) -> None:
    """The note's own picture is there, drawn, and the far one is not asked for."""
    reader.open("/note/nephrology/sentinel.md")
    shown = reader.run("return [...document.images].map(i => [i.src, i.naturalWidth])")
    assert [width for source, width in shown if source.endswith("/near.svg")] == [9]


def test_what_a_hostile_note_says_can_be_read(reader: Visitor) -> None:
    """It is shown as the text that it is."""
    reader.open("/note/nephrology/sentinel.md")
    assert TAG in reader.text
    assert "{{ 7*7 }}" in reader.text
