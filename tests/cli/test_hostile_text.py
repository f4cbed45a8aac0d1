"""What a note or a log brings along never reaches the terminal as a command."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from click.testing import Result

ATTACK = "\x1b[2Jgone\x9b31m \u202egm 005\u202c"
NOTE = f"""---
title: Gout {ATTACK}
area: nephrology
questions: [north:103]
concepts: [gout {ATTACK}]
basis: textbook {ATTACK}
written: 2027-01-01
---
# Gout {ATTACK}
Colchicine {ATTACK} helps. [link {ATTACK}](no-such-{ATTACK}.md)
"""
REACHED = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")
CLI = Path(__file__).parent.parent.parent / "kb" / "cli"


@pytest.mark.parametrize(
    "arguments",
    [
        ("note",),
        ("note", "north:103"),
        ("find", "gout"),
        ("find", "gout", "--json"),
        ("find", f"gout {ATTACK}"),
        ("queue",),
        ("queue", "--json"),
        ("map", "gout"),
        ("brief", "gout"),
        ("reading",),
        ("check",),
        ("check", "--json"),
        ("history", "north:103"),
        ("log", "list"),
        ("log", "one", "north:103", "x", ATTACK),
        ("read", f"Gout {ATTACK}"),
        ("note", f"north:{ATTACK}"),
    ],
)
def test_no_control_reaches_the_terminal(
    beside: Callable[..., Callable[..., Result]], arguments: tuple[str, ...]
) -> None:
    """Whichever door it is, and whether an answer, a message or an error is printed."""
    call = beside({"nephrology/gout.md": NOTE})
    call("log", "one", "north:103", "x", "C>B", f"gout {ATTACK}")
    result = call(*arguments)
    assert result.exit_code in (0, 1, 2), result.output
    assert not REACHED.search(result.stdout.replace("\r\n", "\n"))
    assert not REACHED.search(result.stderr.replace("\r\n", "\n"))


def test_every_command_prints_through_the_one_place() -> None:
    """`click.echo` is called in `params` alone, where controls are shown."""
    sources = {path.name: path.read_text(encoding="utf-8") for path in CLI.glob("*.py")}
    assert [name for name, text in sources.items() if "click.echo(" in text] == ["params.py"]
