"""Bases whose charts have something to show: rounds, a timed paper, certainty, a plan."""

from __future__ import annotations

HEAD = "id,at,question,area,chosen,key,outcome,certainty,seconds,round,sitting\n"
STUDY = """\
timezone: Europe/London
held_back: 0
sources:
  - source: north
    kind: bank
    items: 300
    areas: {1-100: cardiology, 101-200: nephrology, 201-300: neurology}
  - {source: paper-1, kind: paper, items: 200}
"""


def line(number: int, day: str, question: str, outcome: str, **more: object) -> str:
    """One line of the log."""
    area = more.get("area", "")
    rest = ",".join(str(more.get(key, "")) for key in ("certainty", "seconds", "round", "sitting"))
    return f"{number:016x},{day}T12:00:00+00:00,{question},{area},,,{outcome},{rest}\n"


def rows() -> list[str]:
    """Three weeks: 150 first answers, 30 of them again, and a timed paper of 200 questions."""
    found = []
    for n in range(1, 151):
        day = f"2027-01-{20 + n // 25}"
        outcome = "right" if n % 3 else "wrong"
        found.append(
            line(n, day, f"north:{2 * n}", outcome, certainty=1 + n % 3, seconds=80, round="first")
        )
    for n in range(1, 31):
        outcome = "right" if n % 6 else "wrong"
        found.append(line(200 + n, "2027-02-08", f"north:{2 * n}", outcome))
    for n in range(1, 201):
        blank = n > 196
        outcome = "blank" if blank else "right" if n % 4 else "wrong"
        area = ("cardiology", "nephrology", "neurology")[n % 3]
        seconds = "" if blank else 150 if n % 100 < 40 else 85
        found.append(
            line(
                300 + n,
                "2027-02-10",
                f"paper-1:{n}",
                outcome,
                area=area,
                seconds=seconds,
                round="paper",
                sitting="paper-1",
            )
        )
    return found


def full() -> dict[str, str]:
    """Files of a base in which every chart has something to draw on 14 Feb 2027."""
    exam = (
        "exam: The Quill Examination\ndate: 2027-05-11\npass_mark: 0.6\npass_mark_sd: 0.02\n"
        "blueprint:\n"
        "  - {area: cardiology, name: Cardiology, items: 80}\n"
        "  - {area: nephrology, name: Nephrology and a name that is quite long, items: 70}\n"
        "  - {area: neurology, name: Neurology, items: 50}\n"
    )
    return {
        "exam.yaml": exam,
        "study.yaml": STUDY,
        "log/attempts-test.csv": HEAD + "".join(rows()),
    }


def one_answer() -> dict[str, str]:
    """Files of a base with a single answer, without a certainty or a time."""
    return {"log/attempts-test.csv": HEAD + line(1, "2027-02-13", "north:1", "wrong")}
