"""A brief fits into its minutes and says what it leaves out."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import pytest

from kb.core.errors import QueryError
from kb.presentation.render import render_json
from kb.reports import brief
from kb.stats.reading_effect import ReadingEffect

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session

HEAD = "id,at,question,area,outcome\n"


def files() -> dict[str, str]:
    """Six notes of 300 words in nephrology and one in neurology, each with a missed question."""
    found, rows = {}, []
    for n in range(7):
        area, question = ("neurology", "north:201") if n == 6 else ("nephrology", f"north:10{n}")
        found[f"{area}/n{n}.md"] = (
            f"---\nid: n{n}\ntitle: Idea {n}\narea: {area}\nquestions: [{question}]\n"
            f"written: 2027-01-10\n---\n" + "word " * 300 + "\n"
        )
        rows.append(f"{n:016x},2027-01-05T12:00:00+00:00,{question},,wrong\n")
    rows.append(f"{9:016x},2027-01-20T12:00:00+00:00,north:103,,wrong\n")
    found["log/attempts-test.csv"] = HEAD + "".join(rows)
    return found


def shown(session: Session, **given: object) -> dict[str, Any]:
    """The report as JSON readers see it."""
    content: dict[str, Any] = json.loads(render_json(session.report("brief", given), session.today))
    return content


def test_what_is_chosen_fits_the_minutes(session: Callable[..., Session]) -> None:
    """The seconds of all notes shown never exceed the time given."""
    rows = shown(session(files()), words="nephrology", minutes=5.0)["notes"]
    assert rows
    assert sum(row["seconds"] for row in rows) <= 300


def test_the_title_adds_up_what_is_read(session: Callable[..., Session]) -> None:
    """Three of six notes fit: 300 words at 110 a minute and 10 s are 174 s each, so 522 s in all.

    All six would be 1044 s, or 17 minutes. Worked by hand.
    """
    title = shown(session(files()), words="nephrology", minutes=10.0)["title"]
    assert title.endswith(": 3 notes in 9 minutes")


def test_failing_notes_are_read_first(session: Callable[..., Session]) -> None:
    """The note that was missed since it was written opens the list."""
    rows = shown(session(files()), words="nephrology", minutes=20.0)["notes"]
    assert rows[0]["id"] == "n3"


def test_an_area_selects_its_own_notes(session: Callable[..., Session]) -> None:
    """Words that name an area of the blueprint stand for that area."""
    rows = shown(session(files()), words="Neurology", minutes=20.0)["notes"]
    assert [row["id"] for row in rows] == ["n6"]


def test_what_is_left_out_is_told(session: Callable[..., Session]) -> None:
    """Too little time says how many notes stay unread; with few answers nothing is in marks."""
    texts = " ".join(shown(session(files()), words="nephrology", minutes=6.5)["texts"])
    assert "Left out: 4 notes" in texts
    assert " marks" not in texts


def test_no_time_is_refused(session: Callable[..., Session]) -> None:
    """Zero minutes is a question that cannot be answered."""
    with pytest.raises(QueryError):
        session(files()).report("brief", {"words": "nephrology", "minutes": 0.0})


@pytest.mark.parametrize(
    ("setting", "said"), [("no", "`chance_order: yes`"), ("yes", "too few retries yet")]
)
def test_a_trial_is_offered_only_where_none_is_under_way(
    session: Callable[..., Session], monkeypatch: pytest.MonkeyPatch, setting: str, said: str
) -> None:
    """Enough retries to compare, none of them chosen by chance."""
    effect = ReadingEffect(fraction=0.1, low=-0.4, high=0.5, read_count=30, unread_count=30)
    monkeypatch.setattr(brief, "reading_effect", lambda _: effect)
    study = f"reading:\n  chance_order: {setting}\n"
    texts = shown(session({**files(), "study.yaml": study}))["texts"]
    assert any(said in text for text in texts)


@pytest.mark.parametrize(
    ("low", "high", "said"),
    [
        (0.1, 0.6, "prevents about 40% of misses (95% range 10-60%)"),
        (-0.9, -0.1, "does not prevent misses"),
        (-0.1, 0.6, "it is not clear yet"),
    ],
)
def test_what_reading_does_is_claimed_where_its_range_leaves_out_nothing(
    session: Callable[..., Session],
    monkeypatch: pytest.MonkeyPatch,
    low: float,
    high: float,
    said: str,
) -> None:
    """Reading helps, does not, or either may be."""
    effect = ReadingEffect(fraction=0.4, low=low, high=high, read_count=30, unread_count=30)
    monkeypatch.setattr(brief, "reading_effect", lambda _: effect)
    texts = shown(session(files()))["texts"]
    assert any(said in text for text in texts)
