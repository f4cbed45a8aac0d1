"""From two that were mixed up to the note that compares them, on a phone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from serving import Server
    from visitor import Visitor

pytestmark = pytest.mark.browser


@pytest.mark.parametrize(
    ("scripts", "name"),
    [(True, "sarcoidosis"), (False, "delirium")],
    ids=["scripts", "no scripts"],
)
def test_two_touches_and_a_line_make_the_note(
    visitor: Visitor, server: Server, scripts: bool, name: str
) -> None:
    """One touch shows both sides, the next the form; only what is sent there is written."""
    other = {"sarcoidosis": "tuberculosis", "delirium": "psychosis"}[name]
    visitor.phone()
    visitor.scripts(allowed=scripts)
    visitor.open("/report/mixups?limit=40")
    visitor.leave(visitor.one(f".subject a[href='/compare?one={name}&other={other}']").click)
    assert visitor.one("h1").text == f"{name.capitalize()} or {other}?"
    assert visitor.sideways() == []
    visitor.leave(visitor.one("a.button").click)
    assert not list(server.root.glob(f"*/{name}-or-{other}.md"))
    visitor.one("#apart").send_keys("Ask since when.")
    visitor.leave(visitor.one("main form button").click)
    visitor.scripts(allowed=True)
    assert "Written; it answers" in visitor.text
    (note,) = server.root.glob(f"*/{name}-or-{other}.md")
    assert "Ask since when." in note.read_text(encoding="utf-8")
