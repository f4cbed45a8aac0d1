"""The list of papers, on a base of three answers."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from conftest import STUDY

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session


def test_planned_papers_come_first_and_what_was_met_before_is_said(
    session: Callable[..., Session],
) -> None:
    """Of paper-1's two questions the second had been met a minute before; the first, at the very
    beginning of the paper, had not.
    """
    study = STUDY.replace("items: 200", "items: 2")
    study += "  - {source: paper-2, kind: paper, items: 200}\n"
    log = (
        "id,at,question,outcome,sitting\n"
        "a,2027-02-01T08:59:00+00:00,paper-1:2,wrong,\n"
        "b,2027-02-01T09:00:00+00:00,paper-1:1,right,paper-1\n"
        "c,2027-02-01T09:01:00+00:00,paper-1:2,right,paper-1\n"
    )
    report = session({"study.yaml": study, "log/attempts-a.csv": log}).report("sitting")
    table: Any = next(b for b in report.blocks if getattr(b, "key", "") == "papers")
    assert [row[0] for row in table.rows] == ["paper-2", "paper-1"]
    said = [block.text for block in report.blocks if hasattr(block, "text")]
    assert "paper-1: 1 question met before; 100% right on the rest." in said
