"""Other settings tried on a plan: what is understood, what it changes, what is refused."""

from __future__ import annotations

import contextlib
import re
from collections.abc import Callable
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st
from plan_bases import OFFICE, ROLLING, look, study

from kb.core.errors import QueryError
from kb.core.ids import AreaId
from kb.core.model import Base
from kb.core.settings import Area, Exam, Source, Study
from kb.planning.what_if import WHAT_IF, what_if
from kb.planning.workload import plan_for
from kb.presentation.help_topics import help_text
from kb.presentation.render import render_text
from kb.services.session import Session


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("paper=3", "what-if: 'paper=3' is not a setting"),
        ("papers", "what-if: 'papers' is not a setting"),
        ("papers=some", "what-if: papers must be a number from 0 to 100; you typed 'some'"),
        ("sample=3", "what-if: second_fraction: '3' is not a number from 0 to 1"),
        ("bank_holidays=IE", "what-if: 'bank_holidays=IE' is not a setting"),
        ("exam=soon", "what-if: exam must be a date; you typed 'soon'"),
        ("order=neurologi", "what-if: area_order: no area called 'neurologi' in the blueprint"),
        ("break_minutes=", "what-if: break_minutes: '' is not a whole number from 1 to 120"),
        ("last_look_days=0", "what-if: last_look_days: '0' is not a whole number from 1 to 30"),
        ("paper_start=13:00", "what-if: 'paper_start=13:00' is not a setting"),
        ("free_weekdays=sonday", "what-if: free_weekdays: 'sonday' is not a day of the week"),
        (
            "free_hours_after_nights=46",
            "what-if: free_hours_after_nights has no effect without free_after_nights",
        ),
        ("reading=0.3, reading=0.4", "what-if: the key 'reading_fraction' appears twice"),
        ("duty_hours=12", "what-if: 'duty_hours=12' is not a setting"),
    ],
)
def test_a_wrong_what_if_is_said(session: Callable[..., Session], text: str, said: str) -> None:
    """A setting that is not known or off is one clear line with a hint."""
    with pytest.raises(QueryError) as caught:
        what_if(session({"study.yaml": study(OFFICE)}).base, text)
    assert str(caught.value).startswith(f"{said}\n  hint: ")


@pytest.mark.parametrize(
    "text",
    [
        *("exam=2027-06-01", "minutes=+30", "papers=1", "paper_day_minutes=240"),
        *("seconds=60", "review_seconds=60", "off=300"),
        *("order=neurology", "area_order=neurology"),
        "break_after_minutes=90",
        "break_after_minutes=90, break_minutes=5",
    ],
)
def test_every_setting_can_be_tried(session: Callable[..., Session], text: str) -> None:
    """Each what-if changes the plan."""
    papers = "  - {source: p, kind: paper, items: 200}\n  - {source: m, kind: mock, items: 200}\n"
    opened = session({"study.yaml": study(OFFICE).replace("held_back:", papers + "held_back:")})
    tried, plain = (opened.report("plan", {"what_if": w, "days": 80}) for w in (text, ""))
    assert tried.blocks[2:] != plain.blocks[1:]


def test_fewer_repeats_can_be_tried(session: Callable[..., Session]) -> None:
    """A smaller sample leaves fewer questions to take again."""
    base = session({"study.yaml": study(OFFICE)}).base
    counts = [
        look(what_if(base, text)).work.mixed_count for text in ("sample=0.5", "second_fraction=0.1")
    ]
    assert counts == [1500, 300]


def test_the_minutes_of_one_shift_leave_the_others_alone(session: Callable[..., Session]) -> None:
    """`off=300` is said of days off only."""
    base = session({"study.yaml": study(OFFICE)}).base
    before, after = (
        {shift.name: shift.study_minutes for shift in look(one).rota.shifts}
        for one in (base, what_if(base, "off=300"))
    )
    assert after == {**before, "off": 300}


def test_the_plan_explains_what_is_held_back(session: Callable[..., Session]) -> None:
    """How many questions, and until when."""
    opened = session({"study.yaml": study(OFFICE, items=1000, held_back=200)})
    text = render_text(opened.report("plan"), explain=True)
    assert "held back: 200 questions, unseen until three weeks before the exam" in text


def test_numbers_have_a_least_and_a_most(
    session: Callable[..., Session],
) -> None:
    """Both are taken and one beyond is not; minutes taken away leave at least none."""
    base = session({"study.yaml": study(OFFICE)}).base
    for key, most in (("papers", 100), ("off", 960)):
        what_if(base, f"{key}=0, {key}={most}")
        for value in (-1, most + 1):
            with pytest.raises(QueryError, match=f"{key} must be"):
                what_if(base, f"{key}={value}")
    shifts = [
        {
            shift.name: shift.study_minutes
            for shift in look(what_if(base, f"minutes={n}")).rota.shifts
        }
        for n in (-130, 30)
    ]
    assert [(found["day"], found["off"], found["holiday"]) for found in shifts] == [
        (0, 110, 0),
        (150, 270, 0),
    ]


@pytest.mark.parametrize(
    "text",
    [
        *("hours_between=14", "between_nights_minutes=60", "after_nights_fraction=0.1"),
        *("free_after_nights=3", "free_after_nights=3, free_hours_after_nights=46"),
        *("free_after_long_days=2", "free_hours_after_long_days=48, free_after_long_days=2"),
        *("free_days_a_week=1", "free_weekdays=saturday sun", "free_weekdays=weekend"),
    ],
)
def test_limits_of_rest_can_be_tried(session: Callable[..., Session], text: str) -> None:
    """A what-if with another limit of rest changes the days of a rota with nights."""
    night = "    night: {from: '20:00', to: '07:30', study_minutes: 60}\n    rest:"
    base = session({"study.yaml": study(ROLLING.replace("    rest:", night))}).base
    assert look(what_if(base, text)).days() != look(base).days()


def test_a_setting_is_known_in_capitals_and_with_hyphens(session: Callable[..., Session]) -> None:
    """As a phone writes the first letter of a line."""
    base = session({"study.yaml": study(OFFICE)}).base
    assert what_if(base, "Second-Fraction=0.1") == what_if(base, "second_fraction=0.1") != base


def test_a_setting_of_the_file_can_be_tried_without(session: Callable[..., Session]) -> None:
    """Rest that study.yaml asks for can be left out to see what it costs."""
    rest = "  rest: {free_days_a_week: 1, free_weekdays: [sunday], free_after_nights: 2}\n"
    base = session({"study.yaml": study(OFFICE + rest)}).base
    without = look(what_if(base, "free_days_a_week=0, free_weekdays=none, free_after_nights=0"))
    assert without.days() == look(session({"study.yaml": study(OFFICE)}).base).days()
    assert look(what_if(base, "free_weekdays=")).rota.rest.free_weekdays == ()
    assert look(what_if(base, "free_hours_after_nights=46")).rota.rest.free_after_nights == 2


@pytest.mark.parametrize("key", WHAT_IF)
def test_every_name_of_a_setting_is_understood(key: str, session: Callable[..., Session]) -> None:
    """None of those offered is refused as unknown, and the help names each."""
    with pytest.raises(QueryError) as caught:
        session({"study.yaml": study(OFFICE)}).report("plan", {"what_if": f"{key}=?"})
    assert "is not a setting" not in str(caught.value)
    assert re.search(rf"\b{key}\b", help_text("plan") + help_text("study.yaml"))


@given(st.text(max_size=30))
def test_no_text_makes_it_fail_otherwise(text: str) -> None:
    """Whatever is typed ends in a plan or in one clear line."""
    areas = (Area(id=AreaId("cardiology"), name="Cardiology", item_count=200),)
    base = Base(exam=Exam(name="x", date=date(2027, 3, 1), areas=areas), study=Study())
    for typed in (text, f"free_weekdays={text}", f"seconds={text}"):
        with contextlib.suppress(QueryError):
            plan_for(look(what_if(base, typed)))


@pytest.mark.parametrize(("wanted", "left"), [(0, []), (1, ["p2"]), (2, ["p1", "p2"]), (100, None)])
def test_of_the_papers_left_the_last_are_kept(wanted: int, left: list[str] | None) -> None:
    """More than there are is all of them; the bank stays."""
    papers = tuple(Source(id=f"p{n}", name="P", kind="paper", item_count=100) for n in (1, 2))
    bank = Source(id="north", name="North", item_count=100)
    exam = Exam(
        name="Quill",
        date=date(2027, 5, 11),
        areas=(Area(id=AreaId("a"), name="A", item_count=200),),
    )
    found = what_if(Base(exam=exam, study=Study(sources=(bank, *papers))), f"papers={wanted}")
    expected = ["p1", "p2"] if left is None else left
    assert [source.id for source in found.study.sources] == ["north", *expected]
