"""`plan:` and `rota: rest:` of study.yaml: what is understood, and what is said about the rest."""

from __future__ import annotations

from datetime import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kb.core.settings import PlanSettings, RestLimits
from kb.formats.study import parse_study

REST = """\
rota:
  starts: 2027-01-04
  weeks: [[day, day, day, day, day, off, off]]
  rest:
    free_after_nights: 3
    free_hours_after_nights: 46
    free_after_long_days: 2
    free_hours_after_long_days: 48
    free_days_a_week: 1
    free_weekdays: [Saturday, sun]
plan:
  break_after_minutes: 90
  break_minutes: 20
  paper_start: "09:00"
"""


def limits(text: str) -> tuple[RestLimits, PlanSettings, list[str]]:
    """Settings of rest and of the plan, and problems as the person sees them."""
    study, problems = parse_study(text, "study.yaml")
    assert study.rota is not None
    return study.rota.rest, study.plan, [str(problem) for problem in problems]


def test_rest_and_breaks_are_read() -> None:
    """Every setting that keeps time free of study, and breaks."""
    rest, plan, problems = limits(REST)
    assert problems == []
    assert rest == RestLimits(
        free_after_nights=3,
        free_hours_after_nights=46,
        free_after_long_days=2,
        free_hours_after_long_days=48,
        free_days_a_week=1,
        free_weekdays=(5, 6),
    )
    assert (plan.break_after_minutes, plan.break_minutes) == (90, 20)
    assert plan.paper_start == time(9)


@pytest.mark.parametrize(
    ("written", "days"),
    [
        ("weekend", (5, 6)),
        ("[weekend, wed]", (2, 5, 6)),
        ("Sunday", (6,)),
        ("sat, sun", (5, 6)),
        ("Wednesday and Friday", (2, 4)),
        ("none", ()),
        ("[]", ()),
    ],
)
def test_days_of_the_week_are_named_in_words(written: str, days: tuple[int, ...]) -> None:
    """One or several, whole or the first three letters or more; a weekend is both of its days."""
    assert limits(REST.replace("[Saturday, sun]", written))[0].free_weekdays == days


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("sun]", "su]", "study.yaml:10: free_weekdays: 'su' is not a day of the week"),
        ("sun]", "sonday]", "study.yaml:10: free_weekdays: 'sonday' is not a day of the week"),
        ("a_week: 1", "a_week: 7", "study.yaml:9: free_days_a_week: '7' is not a whole number"),
        ("nights: 46", "nights: 200", "study.yaml:6: free_hours_after_nights: '200' is not"),
        ("long_days: 2", "long_days: few", "study.yaml:7: free_after_long_days: 'few' is not"),
        ("long_days: 2", "long_days: 0", "study.yaml:8: free_hours_after_long_days has no effect"),
        ("    free_after_nights: 3\n", "", "study.yaml:5: free_hours_after_nights has no effect"),
        ("free_weekdays", "free_weekday", "study.yaml:10: the setting 'free_weekday' is not known"),
        ("minutes: 90", "minutes: 5", "study.yaml:12: break_after_minutes: a break after every 5"),
        ("minutes: 20", "minutes: 0", "study.yaml:13: break_minutes: '0' is not a whole number"),
    ],
)
def test_what_is_wrong_is_said_with_its_line(old: str, new: str, said: str) -> None:
    """Each mistake names its line, what is wrong and how to correct it; the rest is still read."""
    assert old in REST
    rest, _, problems = limits(REST.replace(old, new))
    assert len(problems) == 1
    assert problems[0].startswith(said)
    assert "\n  hint: " in problems[0]
    assert rest.free_days_a_week in (0, 1)


@given(st.text(max_size=40))
def test_no_text_makes_it_raise(text: str) -> None:
    """Whatever is under rest: or plan: gives values and problems."""
    for key in ("free_weekdays", "free_after_nights", "free_hours_after_long_days"):
        parse_study(REST.replace("  rest:\n", f"  rest:\n    {key}: {text}\n"), "study.yaml")
    parse_study(f"plan:\n  break_after_minutes: {text}\n", "study.yaml")
