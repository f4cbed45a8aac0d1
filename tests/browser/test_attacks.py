"""What a stranger may try on the page, sent over the wire as it comes."""

from __future__ import annotations

import socket
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from wire import ask, cut_off_trickling, key, send_form

from kb.web.server import MOST_CONNECTIONS

if TYPE_CHECKING:
    from collections.abc import Callable

    from serving import Server
    from wire import Key

SECRET = "the stranger reads this only if a fence is down"
NOTE = f"---\ntitle: Outside\narea: nephrology\n---\n{SECRET}\n"
PNG = b"\x89PNG\r\n\x1a\n" + SECRET.encode()
UP = (
    "../",
    "..%2f",
    "%2e%2e/",
    "%2e%2e%2f",
    "..%5c",
    "..\\",
    "%2e%2e%5c",
    "..%252f",
    "%252e%252e%252f",
    "..%c0%af",
    "%c0%ae%c0%ae/",
    "..%ef%bc%8f",
    "....//",
    ".%00./",
    "..;/",
    "./../",
    "nephrology/../../",
    "nephrology%2f..%2f..%2f",
    "/",
    "%2f",
)
ROOMS = ("/", "/note/", "/note/nephrology/", "/file/", "/file/nephrology/", "/static/", "/chart/")
HIDDEN = (
    "exam.yaml",
    "study.yaml",
    "log/attempts-phone.csv",
    ".missbook/catalogue.sqlite",
    ".lock",
)


@pytest.fixture(scope="module")
def guarded(demo_server: Callable[..., Server]) -> Server:
    """The demo base with things beside it, and links to them in it, that must never be shown."""
    server = demo_server()
    outside = server.root.parent
    (outside / "secret.md").write_text(NOTE, encoding="utf-8")
    (outside / "secret.png").write_bytes(PNG)
    inside = server.root / "nephrology"
    try:
        (inside / "linked.md").symlink_to(outside / "secret.md")
        (inside / "linked.png").symlink_to(outside / "secret.png")
        (inside / "shelf").symlink_to(outside, target_is_directory=True)
    except OSError:
        pass  # some Windows accounts may not make links: then there is nothing to follow
    return server


@pytest.fixture
def opened(guarded: Server) -> Key:
    """A browser that has opened the page."""
    return key(guarded)


def logs(server: Server) -> dict[str, bytes]:
    """Every file of the log, to see whether anything was written."""
    return {path.name: path.read_bytes() for path in (server.root / "log").iterdir()}


@pytest.mark.parametrize("room", ROOMS)
def test_no_spelling_of_a_path_leads_out_of_the_base(guarded: Server, room: str) -> None:
    """However a path upwards is spelt, what lies outside the base is not shown."""
    for up in UP:
        for times in (1, 2, 4):
            for name in ("secret.md", "secret.png", "secret"):
                reply = ask(guarded, room + up * times + name)
                assert SECRET not in reply.text, (room, up, times, name)
                assert reply.status >= 300


@pytest.mark.parametrize("start", ["/note/", "/note/nephrology/", "/note//", "/file/", "/file//"])
def test_no_full_path_is_followed(guarded: Server, start: str) -> None:
    """A full path of this machine, with or without a drive, leads nowhere."""
    outside = guarded.root.parent / "secret.md"
    for name in (
        outside.as_posix(),
        outside.as_posix().replace("/", "%2f"),
        f"C:{outside.as_posix()}",
        f"file://{outside.as_posix()}",
        f"%5c%5c127.0.0.1{outside.as_posix()}",
    ):
        reply = ask(guarded, start + name)
        assert SECRET not in reply.text
        assert reply.status in (308, 400, 404)


@pytest.mark.parametrize(
    "path", ["linked.md", "linked", "linked.png", "shelf/secret.md", "shelf/secret.png"]
)
def test_no_symbolic_link_leads_out_of_the_base(guarded: Server, path: str) -> None:
    """A link in the base to something outside it is not followed, to read or to edit."""
    for address in (
        f"/note/nephrology/{path}",
        f"/note/nephrology/{path}/edit",
        f"/file/nephrology/{path}",
    ):
        reply = ask(guarded, address)
        assert SECRET not in reply.text
        assert reply.status == 404


def test_nothing_found_through_a_link_is_listed(guarded: Server) -> None:
    """Search does not read what a link points to either."""
    assert SECRET not in ask(guarded, "/find?words=stranger+fence").text


@pytest.mark.parametrize("path", HIDDEN)
def test_settings_and_logs_are_not_handed_out(guarded: Server, path: str) -> None:
    """Only notes and the images beside them are files that the page shows."""
    for start in ("/note/", "/note/nephrology/../", "/file/", "/file/./", "/static/../", "/"):
        reply = ask(guarded, start + path)
        assert reply.status in (308, 400, 404), start


@pytest.mark.parametrize(
    "host",
    [
        "kittens.example",
        "127.0.0.1.kittens.example:{port}",
        "kittens.example:{port}",
        "127.0.0.1:1",
        "127.0.0.1@kittens.example:{port}",
        "127.0.0.1:{port}.kittens.example",
        "",
    ],
)
def test_a_forged_host_is_refused(guarded: Server, host: str) -> None:
    """A foreign name that leads to this machine opens nothing."""
    reply = ask(guarded, "/", headers={"Host": host.format(port=guarded.port)})
    assert reply.status == 400
    assert "nephrology" not in reply.text.lower()


def test_headers_of_a_proxy_are_not_believed(guarded: Server) -> None:
    """Nobody stands between page and person, so what a proxy would say counts for nothing."""
    forged = {"X-Forwarded-Host": "kittens.example", "Forwarded": "host=kittens.example"}
    reply = ask(guarded, "/", headers=forged)
    assert "kittens" not in reply.text
    assert ask(guarded, "http://kittens.example/").text.count("kittens") == 0


@pytest.mark.parametrize(
    "forged",
    [
        {"Origin": "http://kittens.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:1"},
        {"Origin": "http://127.0.0.1.kittens.example"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
    ids=str,
)
def test_a_forged_origin_changes_nothing(
    guarded: Server, opened: Key, forged: dict[str, str]
) -> None:
    """A form sent from another site is refused even with the right token."""
    before = logs(guarded)
    fields = {"token": opened.token, "question": "harbour:9999", "outcome": "wrong"}
    reply = send_form(guarded, "/log", fields, cookie=opened.cookie, headers=forged)
    assert reply.status == 403
    assert logs(guarded) == before


@pytest.mark.parametrize("path", ["/log", "/note/nephrology/hyponatraemia.md/edit", "/nowhere"])
@pytest.mark.parametrize("forged", ["", "-", "x" * 32, "ü"])
def test_a_forged_token_changes_nothing(
    guarded: Server, opened: Key, path: str, forged: str
) -> None:
    """A form without the token of this very browser is refused, with and without its cookie."""
    before = logs(guarded)
    for cookie in (opened.cookie, "", "missbook=forged"):
        reply = send_form(guarded, path, {"token": forged, "outcome": "wrong"}, cookie=cookie)
        assert reply.status == 403
    assert logs(guarded) == before


def test_the_token_of_another_browser_is_refused(guarded: Server, opened: Key) -> None:
    """Each browser has a token of its own."""
    other = key(guarded)
    assert other.token != opened.token
    reply = send_form(guarded, "/log", {"token": other.token}, cookie=opened.cookie)
    assert reply.status == 403


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "TRACE", "CONNECT", "PROPFIND"])
def test_other_methods_do_nothing(guarded: Server, method: str) -> None:
    """Pages are read or sent forms; nothing else is understood."""
    assert ask(guarded, "/log", method=method).status in (400, 403, 405, 501)


@pytest.mark.parametrize("megabytes", [3, 10])
def test_a_large_body_is_refused(guarded: Server, opened: Key, megabytes: int) -> None:
    """A body beyond the limit is refused, by its announced length or as it comes in pieces."""
    before = logs(guarded)
    large = b"remark=" + b"x" * megabytes * 1_000_000
    form = {"Content-Type": "application/x-www-form-urlencoded", "Cookie": opened.cookie}
    assert ask(guarded, "/log", method="POST", headers=form, body=large).status == 413
    pieces = {**form, "Transfer-Encoding": "chunked"}
    chunked = b"%x\r\n%s\r\n0\r\n\r\n" % (len(large), large)
    assert ask(guarded, "/log", method="POST", headers=pieces, body=chunked).status == 413
    assert ask(guarded, "/").status == 200
    assert logs(guarded) == before


def test_an_endless_head_is_refused(guarded: Server) -> None:
    """A head that does not end is cut off."""
    reply = ask(guarded, "/", headers={"X-Long": "x" * 400_000})
    assert reply.status in (400, 431)


@pytest.mark.parametrize(
    "path",
    [
        "/find?words=%0d%0aSet-Cookie:%20stolen=1",
        "/note/x%0d%0aSet-Cookie:%20stolen=1",
        "/note/hyponatraemia%0d%0aX:%20y",
        "/log?source=%0d%0aSet-Cookie:%20stolen=1",
        "/report/queue?limit=5&limit=%0aX:%20y",
    ],
)
def test_no_header_can_be_smuggled_in(guarded: Server, path: str) -> None:
    """Line ends in an address never become a line of the answer's head."""
    reply = ask(guarded, path)
    assert "stolen" not in reply.header("Set-Cookie")
    assert reply.header("X") == ""


@pytest.mark.parametrize(
    "path",
    [
        "/",
        "/static/page.css",
        "/nowhere",
        "/note/nowhere",
        "/report/queue?limit=many",
        "/find?words=%22",
        "/find?words=((",
        "/%ff%fe",
        "/report/__init__",
        "/report/..",
    ],
)
def test_every_answer_is_fenced_and_silent_about_the_inside(guarded: Server, path: str) -> None:
    """Every answer carries the policy, and none tells of code, folders or the server's make."""
    reply = ask(guarded, path)
    assert reply.status < 500
    policy = reply.header("Content-Security-Policy")
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
    assert reply.header("X-Content-Type-Options") == "nosniff"
    assert "frame-ancestors 'none'" in policy
    assert "waitress" not in str(reply.headers).lower()
    for inside in ("Traceback", "site-packages", str(guarded.root), str(Path.home()), ".py"):
        assert inside not in reply.text


def test_a_redirect_stays_on_the_page(guarded: Server) -> None:
    """No address of ours sends the person to another site."""
    for path in ("//kittens.example", "/note//kittens.example", "/\\kittens.example", "/log//"):
        reply = ask(guarded, path)
        where = reply.header("Location")
        assert "//kittens" not in where.replace("http://127.0.0.1", "")
        assert where == "" or where.startswith(("/", f"http://127.0.0.1:{guarded.port}/"))


def test_slow_clients_do_not_keep_others_waiting(demo_server: Callable[..., Server]) -> None:
    """Many who send a letter now and then hold up nobody, and are cut off in the end."""
    server = demo_server(channel_timeout=1, cleanup_interval=1)  # in earnest 30 and 10 seconds
    slow = [socket.create_connection(("127.0.0.1", server.port), 10) for _ in range(20)]
    for count, wire in enumerate(slow):
        head = f"POST /log HTTP/1.1\r\nHost: 127.0.0.1:{server.port}\r\nContent-Length: 900\r\n"
        wire.sendall((head if count % 2 else head + "\r\nrem").encode())
    for wire in slow:
        wire.sendall(b"x")
    assert ask(server, "/static/page.css").status == 200
    for wire in slow:
        assert cut_off(wire)


def test_a_request_that_trickles_in_is_cut_off(demo_server: Callable[..., Server]) -> None:
    """A letter every tenth of a second does not keep a connection open for ever."""
    server = demo_server(channel_timeout=1, cleanup_interval=1)
    assert cut_off_trickling(server, b"GET / HTTP/1.1\r\nX: ")


def test_more_slow_connections_than_there_are_places_keep_nobody_out(
    demo_server: Callable[..., Server],
) -> None:
    """The oldest that still waits gives way; no limit of time has passed."""
    server = demo_server()
    slow = []
    for _ in range(MOST_CONNECTIONS + 50):
        slow.append(socket.create_connection(("127.0.0.1", server.port), 10))
        slow[-1].sendall(b"GET / HTTP/1.1\r\nX: ")
    assert ask(server, "/static/page.css").status == 200
    assert cut_off(slow[0])
    for wire in slow:
        wire.close()


def cut_off(wire: socket.socket) -> bool:
    """Whether the server ends the connection by itself within ten seconds."""
    with wire:
        try:
            while wire.recv(65536):
                pass
        except TimeoutError:
            return False
        except OSError:
            return True
    return True
