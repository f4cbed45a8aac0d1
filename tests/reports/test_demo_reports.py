"""The main reports of the demo read as agreed, as text and as JSON, and agree with each other."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any

import pytest
from conftest import DEMO_DAY

from kb.presentation.open_misses import misses_report
from kb.presentation.render import render_json, render_text
from kb.services.session import Session

if TYPE_CHECKING:
    from tests.conftest import Golden


def read(session: Session, name: str, **given: object) -> dict[str, Any]:
    """A report as a reader of its JSON sees it."""
    content: dict[str, Any] = json.loads(render_json(session.report(name, given), DEMO_DAY))
    return content


@pytest.mark.parametrize(
    ("name", "given"),
    [
        ("queue", {"limit": 6}),
        ("brief", {"words": "nephrology", "minutes": 3}),
        ("find", {"words": "low sodium"}),
        ("standing", {}),
        ("forecast", {}),
        ("check", {}),
        ("gaps", {}),
    ],
    ids=lambda part: part if isinstance(part, str) else "",
)
def test_a_report_of_the_demo_reads_as_agreed(
    demo: Session, golden: Golden, name: str, given: dict[str, object]
) -> None:
    """To the letter, and within 80 columns."""
    text = render_text(demo.report(name, given))
    assert max(map(len, text.splitlines())) <= 80
    golden.check(f"reports/demo-{name}.txt", text)


@pytest.mark.parametrize("name", ["queue", "find"])
def test_json_keeps_its_keys(demo: Session, golden: Golden, name: str) -> None:
    """Keys and kinds of values are a contract; figures may move."""
    content = read(demo, name, **({"words": "low sodium"} if name == "find" else {"limit": 2}))
    golden.check(f"reports/demo-{name}.json", json.dumps(_shape(content), indent=2) + "\n")


def _shape(value: object) -> object:
    if isinstance(value, dict):
        return {key: _shape(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [_shape(value[0])] if value else []
    return type(value).__name__


def test_open_misses_are_the_same_in_every_report(demo: Session) -> None:
    """`note` lists as many as `queue` says there are."""
    listed = misses_report(demo.base, DEMO_DAY, 10_000, 1)
    count = int(listed.title.split()[0])
    said = [text for text in read(demo, "queue")["texts"] if "have no note yet" in text]
    assert said[0].startswith(f"{count} misses")


def test_the_blueprint_is_whole_in_standing_and_forecast(demo: Session) -> None:
    """Both list every area, and their items add up to the exam."""
    for name in ("standing", "forecast"):
        rows = read(demo, name)["areas"]
        assert sum(row["item_count"] for row in rows) == 200
        assert {row["area"] for row in rows} == {area.id for area in demo.exam.areas}


def test_an_earlier_day_shows_the_base_as_it_stood(demo: Session) -> None:
    """In February there were fewer answers and fewer notes, and the report says that day."""
    now = datetime(2027, 4, 5, 12, tzinfo=UTC)
    then = Session(demo.root, now=now, device="test", as_of=date(2027, 2, 1))
    assert len(then.base.attempts) < len(demo.base.attempts)
    assert len(then.base.notes) < len(demo.base.notes)
    assert then.report("queue").right.startswith("1 Feb 2027, 99 days left")
