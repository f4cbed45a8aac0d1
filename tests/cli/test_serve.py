"""`missbook serve` says where the page is, lets nobody else in unasked, and ends calmly."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

import pytest
from click.testing import CliRunner

from kb.cli import main
from kb.web import server as serving

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from click.testing import Result

WORDS = "seven grey herons"


class Server:
    """Stands in for the real one: notes where it would listen, and is stopped at once."""

    def __init__(self) -> None:
        self.asked: list[tuple[Any, str, int]] = []
        self.closed = False

    def __call__(self, app: Any, host: str, port: int, certificate: Path | None) -> Server:
        """Make a server."""
        self.asked.append((app, host, port))
        return self

    def run(self) -> None:
        """Ctrl-C comes at once."""
        raise KeyboardInterrupt

    def close(self) -> None:
        """Note that it was closed."""
        self.closed = True


@pytest.fixture
def server(monkeypatch: pytest.MonkeyPatch) -> Server:
    """No test listens on a port; this machine has one address."""
    made = Server()
    monkeypatch.setattr(serving, "make_server", made)
    monkeypatch.setattr(serving, "own_addresses", lambda: ("192.168.7.5",))
    monkeypatch.setattr(serving, "own_names", lambda: ("ward", "ward.local"))
    monkeypatch.delenv("MISSBOOK_PASSPHRASE", raising=False)
    return made


def serve(root: Path, *options: str, **environment: str) -> Result:
    """Run the command."""
    return CliRunner().invoke(main, ["--base", str(root), "serve", *options], env=environment)


def test_it_listens_to_this_machine_only(base: Callable[..., Path], server: Server) -> None:
    """Without --lan only 127.0.0.1 is listened on, and the cautions are said."""
    result = serve(base())
    assert result.exit_code == 0
    assert [(host, port) for _, host, port in server.asked] == [("127.0.0.1", 8017)]
    assert "until you press Ctrl-C" in result.stderr
    assert re.search(r"^http://127\.0\.0\.1:8017/\?key=[\w-]{43}$", result.stderr, re.M)
    assert "not for patient care" in result.stderr


def test_ctrl_c_ends_it_calmly(base: Callable[..., Path], server: Server) -> None:
    """The server is closed and nothing but a sentence is printed."""
    result = serve(base())
    assert server.closed
    assert result.stderr.endswith("missbook has stopped\n")
    assert result.stdout == ""


def test_the_network_gets_an_address_and_a_code(base: Callable[..., Path], server: Server) -> None:
    """With --lan every address is listened on, and the phone's is shown with its code."""
    result = serve(base(), "--lan", "--port", "9000", MISSBOOK_PASSPHRASE=WORDS)
    assert server.asked[0][1:] == ("0.0.0.0", 9000)
    assert "https://192.168.7.5:9000/" in result.stderr
    assert "█" in result.stderr
    assert re.search(r"^  (?:[0-9A-F]{2}:){15}[0-9A-F]{2}$", result.stderr, re.M)


def test_the_passphrase_is_shown_nowhere(base: Callable[..., Path], server: Server) -> None:
    """Neither printed nor written into the base."""
    root = base()
    result = serve(root, "--lan", MISSBOOK_PASSPHRASE=WORDS)
    assert server.asked
    assert WORDS not in result.output
    written = [path.read_bytes() for path in root.rglob("*") if path.is_file()]
    assert not [raw for raw in written if WORDS.encode() in raw]


def test_the_passphrase_can_stand_in_a_file(
    base: Callable[..., Path], server: Server, tmp_path: Path
) -> None:
    """Its first line counts, whatever line ends it has."""
    file = tmp_path / "words.txt"
    file.write_bytes(WORDS.encode() + b"\r\nsecond line\r\n")
    serve(base(), "--lan", "--passphrase-file", str(file))
    door = server.asked[0][0].extensions["missbook-door"]
    assert door.try_words("192.168.7.9", WORDS)


@pytest.mark.parametrize(
    ("options", "environment", "said"),
    [
        (["--lan"], {}, "nobody to ask for the passphrase"),
        (["--lan"], {"MISSBOOK_PASSPHRASE": "short"}, "the passphrase is too short"),
        (["--lan"], {"MISSBOOK_PASSPHRASE": ""}, "the passphrase is too short"),
        (["--lan"], {"MISSBOOK_PASSPHRASE": "\udcff" * 20}, "holds what cannot be typed"),
        (["--port", "0"], {}, "must be from 1 to 65535; you typed 0"),
    ],
)
def test_what_cannot_be_served_is_said_in_a_line(
    base: Callable[..., Path],
    server: Server,
    options: list[str],
    environment: dict[str, str],
    said: str,
) -> None:
    """Exit 2, what is wrong, and how to mend it; nothing is listened on."""
    result = serve(base(), *options, **environment)
    assert (result.exit_code, said in result.stderr, "hint: " in result.stderr) == (2, True, True)
    assert server.asked == []


def test_a_file_that_is_no_text_is_refused(
    base: Callable[..., Path], server: Server, tmp_path: Path
) -> None:
    """A picture named by mistake is told in a line, not in a traceback."""
    file = tmp_path / "words.txt"
    file.write_bytes(b"\xff\xfe\x00 not a text\n")
    result = serve(base(), "--lan", "--passphrase-file", str(file))
    assert result.exit_code == 2
    assert "words.txt: the file is not UTF-8" in result.stderr
    assert server.asked == []


def test_a_passphrase_without_lan_is_refused(
    base: Callable[..., Path], server: Server, tmp_path: Path
) -> None:
    """Who names a passphrase but not --lan would believe the page protected by it."""
    file = tmp_path / "words.txt"
    file.write_text(WORDS, encoding="utf-8")
    result = serve(base(), "--passphrase-file", str(file))
    assert (result.exit_code, server.asked) == (2, [])


def test_a_port_in_use_is_said_with_another(
    base: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second missbook is told which port to try."""

    def taken(*_: object) -> None:
        raise OSError(98, "Address already in use")

    monkeypatch.setattr(serving, "make_server", taken)
    result = serve(base(), "--port", "9000")
    assert result.exit_code == 2
    assert "port 9000 cannot be used: address already in use" in result.stderr
    assert "--port 9001" in result.stderr
