"""Bases to plan with: one bank of three areas, three rotas, and a log."""

from __future__ import annotations

from datetime import date

from kb.core.model import Base
from kb.planning.workload import Situation, situation

TODAY = date(2027, 2, 14)
SOURCES = """\
timezone: Europe/London
sources:
  - source: north
    kind: bank
    items: {items}
    areas: {{1-{a}: cardiology, {b}-{c}: nephrology, {d}-{items}: neurology}}
held_back: {held_back}
"""
OFFICE = """\
rota:
  starts: 2027-01-04
  weeks: [[day, day, day, day, day, off, off]]
"""
ROLLING = """\
rota:
  starts: 2027-01-04
  shifts:
    rest: {study_minutes: 60}
  weeks:
    - [day, day, day, day, day, off, off]
    - [day, day, long, day, day, off, off]
    - [night, night, night, night, rest, off, off]
    - [day, long, day, day, day, off, off]
    - [day, day, day, long, day, off, off]
    - [day, day, off, off, night, night, night]
    - [rest, off, day, day, day, off, off]
    - [day, day, off, off, long, long, long]
  exceptions:
    2027-05-03 to 2027-05-10: leave
"""
PART_TIME = """\
rota:
  starts: 2027-01-04
  shifts:
    day: {from: "08:00", to: "17:00", study_minutes: 90}
    off: {study_minutes: 270}
  weeks: [[day, day, day, off, off, off, off]]
  exceptions:
    2027-03-01 to 2027-03-07: holiday
plan: {area_order: [neurology]}
"""


def study(rota: str, items: int = 3000, held_back: int = 300) -> str:
    """A study.yaml with one bank of three areas and a rota."""
    a, c = items * 2 // 5, items * 7 // 10
    head = SOURCES.format(items=items, a=a, b=a + 1, c=c, d=c + 1, held_back=held_back)
    return head + rota


def attempts(*rows: str) -> str:
    """A log with these answers: `day question outcome seconds round`."""
    lines = ["id,at,question,outcome,seconds,round"]
    for i, row in enumerate(rows):
        day, question, outcome, seconds, round_ = row.split()
        seconds = seconds.replace("-", "")
        lines.append(f"i{i},{day}T18:00:00+00:00,{question},{outcome},{seconds},{round_}")
    return "\r\n".join(lines) + "\r\n"


def look(base: Base, today: date = TODAY) -> Situation:
    """The planning situation of a base, its areas weighted by the blueprint."""
    return situation(base, today, {a.id: float(a.item_count) for a in base.exam.areas})
