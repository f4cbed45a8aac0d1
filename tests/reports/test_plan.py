"""What the plan says beyond its days."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from plan_bases import OFFICE, TODAY, study

from kb.planning.what_if import with_minutes
from kb.planning.workload import plan_for, plan_of
from kb.presentation.report_model import Text

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session


def test_more_minutes_that_would_do_are_named(session: Callable[..., Session]) -> None:
    """Behind, the fewest more minutes a day that do are named; a later exam never is."""
    opened = session({"study.yaml": study(OFFICE, items=7000, held_back=0)})
    now, _ = plan_of(opened.base, TODAY)
    texts = [b.text for b in opened.report("plan").blocks if isinstance(b, Text)]
    said = next(text for text in texts if "more minute" in text)
    more = int(said.split()[0])
    assert not plan_for(replace(now, rota=with_minutes(now.rota, more))).behind
    assert plan_for(replace(now, rota=with_minutes(now.rota, more - 1))).behind
    assert not any("later" in text for text in texts)
