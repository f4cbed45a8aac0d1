"""Standing lists every area of the blueprint, worst first, with how sure it is."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from kb.presentation.render import render_json

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session

HEAD = "id,at,question,area,outcome\n"


def answers(count: int) -> dict[str, str]:
    """Nephrology one in two right, cardiology all right, neurology never met."""
    rows = []
    for n in range(count):
        rows.append(f"north:{n + 101},,{'right' if n % 2 else 'wrong'}")
        rows.append(f"north:{n + 1},,right")
    lines = (f"{n:016x},2027-02-01T12:00:00+00:00,{row}\n" for n, row in enumerate(rows))
    return {"log/attempts-test.csv": HEAD + "".join(lines)}


def shown(session: Session) -> dict[str, Any]:
    """The report as JSON readers see it."""
    content: dict[str, Any] = json.loads(render_json(session.report("standing"), session.today))
    return content


def test_areas_stand_by_marks_at_risk(session: Callable[..., Session]) -> None:
    """Most marks at risk first."""
    marks = [row["marks"] for row in shown(session(answers(30)))["areas"]]
    assert marks == sorted(marks, reverse=True)


def test_an_area_never_met_is_named(session: Callable[..., Session]) -> None:
    """It is a risk too: it has a row, no answers, and a line of its own."""
    content = shown(session(answers(30)))
    rows = {row["area"]: row for row in content["areas"]}
    assert rows["neurology"]["tried_count"] == 0
    assert any("No answer logged yet" in text and "Neurology" in text for text in content["texts"])


def test_an_empty_base_claims_nothing(session: Callable[..., Session]) -> None:
    """Before the first answer no area has a standing."""
    content = shown(session({}))
    assert "areas" not in content
    assert "missbook log block" in str(content["texts"])
