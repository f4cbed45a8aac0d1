"""Charts and exports of unusual bases: all right, all wrong, one question, odd names."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from chart_bases import HEAD, STUDY, line

from kb.charts import chart_names, draw, style_of
from kb.export.html_bundle import write_carry
from kb.export.pdf import write_pdf
from kb.services.selection import Choice, answer_form, gather

if TYPE_CHECKING:
    from collections.abc import Callable

    from kb.services.session import Session


def exam(*areas: str, day: str = "2027-05-11", name: str = "The Quill Examination") -> str:
    """An exam with areas such as `cardiology: 80`."""
    rows = [area.split(": ") for area in areas]
    named = "".join(f"  - {{area: {area}, name: '{area}', items: {n}}}\n" for area, n in rows)
    return f"exam: {name}\ndate: {day}\npass_mark: 0.6\nblueprint:\n{named}"


def log(outcome: str, days: tuple[str, ...], area: str = "cardiology", seconds: int = 108) -> str:
    """A hundred and twenty answers over several days and a paper of forty, all with one outcome."""
    rows = [
        line(n, days[n % len(days)], f"north:{n}", outcome, area=area, certainty=3)
        for n in range(1, 121)
    ]
    for n in range(1, 41):
        told = {"area": area, "seconds": seconds, "round": "paper", "sitting": "paper-1"}
        rows.append(line(200 + n, days[-1], f"paper-1:{n}", outcome, **told))
    return HEAD + "".join(rows)


def note(title: str, area: str = "cardiology") -> str:
    """A note on one question of the bank."""
    return (
        f"---\nareas: [{area}]\nquestions: [north:1]\nwritten: 2027-01-01\n---\n# {title}\n\nF.\n"
    )


WEEKS = ("2027-01-20", "2027-01-28", "2027-02-10")
USUAL = {"exam.yaml": exam("cardiology: 80", "nephrology: 70"), "study.yaml": STUDY}
ODD = "herz-größe"
NAMED = "'Herz & <Größe> $x^2$ 試験 قلب \U0001f9a0'"
BASES = {
    "all right": {**USUAL, "log/attempts-a.csv": log("right", WEEKS), "a.md": note("A")},
    "all wrong": {**USUAL, "log/attempts-a.csv": log("wrong", WEEKS), "a.md": note("A")},
    "all left blank": {**USUAL, "log/attempts-a.csv": log("blank", WEEKS), "a.md": note("A")},
    "one item": {
        "exam.yaml": exam("cardiology: 1"),
        "log/attempts-a.csv": log("right", WEEKS),
        "a.md": note("A"),
    },
    "leap day and change of clocks": {
        "exam.yaml": exam("cardiology: 80", day="2028-02-29"),
        "log/attempts-a.csv": log("right", ("2024-02-29", "2026-03-29", "2026-10-25")),
        "a.md": note("A"),
    },
    "names of every script": {
        "exam.yaml": exam(f"{ODD}: 80", name=NAMED).replace(f"name: '{ODD}'", f"name: {NAMED}"),
        "log/attempts-a.csv": log("wrong", WEEKS, area=ODD).replace(",paper-1\n", ",päper <1>\n"),
        "ø/試験.md": note("Über <b>Größe</b> & \U0001f9a0 試験 قلب", ODD),
    },
    "endless titles": {
        "exam.yaml": exam("cardiology: 80", name="Long " * 200),
        "log/attempts-a.csv": log("wrong", WEEKS),
        "a.md": note("Word " * 1000),
        "b.md": note("W" * 3000),
    },
}


@pytest.mark.parametrize("name", chart_names())
@pytest.mark.parametrize("base_name", BASES)
def test_every_chart_is_drawn_or_says_why_not(
    session: Callable[..., Session], base_name: str, name: str
) -> None:
    """Each chart is drawn, or says why it cannot be."""
    chart = session(BASES[base_name]).chart(name)
    if chart.panels:
        assert draw(chart, "svg", style_of(280)).startswith(b"<?xml")
    assert chart.alternative.endswith(".")


@pytest.mark.parametrize("base_name", BASES)
def test_every_base_is_printed(session: Callable[..., Session], base_name: str) -> None:
    """Each base prints all its notes, whatever their names."""
    assert write_pdf(gather(session(BASES[base_name]), Choice(kind="all"))).page_count >= 1


@pytest.mark.parametrize("base_name", BASES)
def test_every_base_is_carried(session: Callable[..., Session], base_name: str) -> None:
    """Each base is carried in one file, whose form offers its sources and areas."""
    opened = session(BASES[base_name])
    raw = write_carry(gather(opened, Choice(kind="all")), answer_form(opened))
    assert raw.count(b"<article") == len(opened.base.notes)
