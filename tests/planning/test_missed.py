"""Missed questions: when each comes back, and when it has been got right."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

import pytest
from click.testing import CliRunner
from plan_bases import OFFICE, attempts, study

from kb.cli import main
from kb.core.ids import AttemptId, NoteId, QuestionId
from kb.core.model import Attempt, Base, Dismissal, Note
from kb.core.settings import Exam, Study
from kb.planning.missed import missed_questions, return_days
from kb.services.session import Session
from kb.stats.sitting import find_sittings

EXAM = date(2027, 5, 11)


@pytest.mark.parametrize(
    ("right", "left", "days"),
    [
        (0, 100, 3),
        (0, 5, 2),
        (0, 1, 1),
        (1, 43, 8),  # Cepeda 2008: eight days between the looks when the test is 35 days after
        (1, 82, 12),  # and twelve for 70
        (1, 4, 2),
        (1, 5000, 30),
    ],
)
def test_the_gap_suits_the_time_left(right: int, left: int, days: int) -> None:
    """Three days after a miss, then the published gap, at most 30 days and half of the time."""
    assert return_days(right, left) == days


def waiting(session: Callable[..., Session], *rows: str) -> list[tuple[str, int, date]]:
    """What is to be tried again after these answers."""
    files = {"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows)}
    found = missed_questions(session(files).base, EXAM)
    return [(m.question, m.right_count, m.due) for m in found]


def test_right_twice_in_a_row_settles_a_question(session: Callable[..., Session]) -> None:
    """A miss waits until two right answers follow it; a repeat counts without its round."""
    one = ["2027-02-01 north:1 wrong - first"]
    assert waiting(session, *one) == [("north:1", 0, date(2027, 2, 4))]
    two = [*one, "2027-02-04 north:1 right - -"]
    assert waiting(session, *two) == [
        ("north:1", 1, date(2027, 2, 4) + timedelta(days=return_days(1, 96)))
    ]
    assert waiting(session, *two, "2027-02-10 north:1 right - second") == []
    again = [*two, "2027-02-10 north:1 wrong - -", "2027-02-13 north:1 right - -"]
    assert [(q, n) for q, n, _ in waiting(session, *again)] == [("north:1", 1)]


@pytest.mark.parametrize(("day", "stays_away"), [(31, False), (1, True), (2, True)])
def test_a_dismissal_bears_on_misses_up_to_its_own_day(day: int, stays_away: bool) -> None:
    """A miss of 1 February: dismissed on the day before, the same day and the next."""
    at = datetime(2027, 2, 1, 12, tzinfo=UTC)
    question = QuestionId("north:1")
    miss = Attempt(id=AttemptId("a"), at=at, question=question, outcome="wrong")
    said = datetime(2027, 1 if day == 31 else 2, day, 9, tzinfo=UTC)
    exam = Exam(name="Quill", date=EXAM, areas=())
    aside = Dismissal(at=said, question=question, reason="misread")
    found = Base(exam=exam, study=Study(), attempts=(miss,), dismissals=(aside,))
    assert (missed_questions(found, EXAM) == ()) == stays_away


def test_what_is_due_first_comes_first() -> None:
    """Then by reference, whatever the order of the misses; each with its notes."""
    rows = [(2, "north:3"), (2, "north:2"), (1, "north:9")]
    misses = tuple(
        Attempt(
            id=AttemptId(question),
            at=datetime(2027, 2, day, 12, tzinfo=UTC),
            question=QuestionId(question),
            outcome="blank",
        )
        for day, question in rows
    )
    note = Note(id=NoteId("n"), path="n.md", title="N", questions=(QuestionId("north:2"),))
    exam = Exam(name="Quill", date=EXAM, areas=())
    found = missed_questions(Base(exam=exam, study=Study(), notes=(note,), attempts=misses), EXAM)
    assert [(m.question, m.notes) for m in found] == [
        ("north:9", ()),
        ("north:2", ("n",)),
        ("north:3", ()),
    ]


def test_a_dismissed_miss_stays_away_until_it_is_missed_again(base: Callable[..., object]) -> None:
    """What was dismissed does not come back; a later miss does."""
    log = attempts("2027-02-01 north:1 wrong - first", "2027-02-01 north:2 wrong - first")
    root = base({"study.yaml": study(OFFICE), "log/attempts-a.csv": log})
    words = [
        "--base",
        str(root),
        "note",
        "north:1",
        "--dismiss",
        "misread",
        "--as-of",
        "2027-02-02",
    ]
    assert CliRunner().invoke(main, words).exit_code == 0
    retry = ["--base", str(root), "retry", "--as-of", "2027-02-14"]
    text = CliRunner().invoke(main, retry).stdout
    assert "north:2" in text
    assert "north:1 " not in text


def test_questions_are_listed_by_bank_in_the_order_of_their_numbers(
    base: Callable[..., object],
) -> None:
    """The list can be called up in the bank, and says the note and the day of each miss."""
    rows = [f"2027-02-0{d} north:{n} wrong - first" for d, n in ((1, 31), (2, 5), (3, 12))]
    note = "---\ntitle: T wave\nareas: [cardiology]\nquestions: [north:5]\n---\nText.\n"
    files = {"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows), "a.md": note}
    words = ["--base", str(base(files)), "retry", "--as-of", "2027-02-14"]
    lines = CliRunner().invoke(main, words).stdout.splitlines()
    found = [line.split() for line in lines if line.startswith("north:")]
    assert [row[0] for row in found] == ["north:5", "north:12", "north:31"]
    assert " ".join(found[0][1:]) == "T wave missed 2 Feb"
    assert " ".join(found[1][1:]) == "no note yet missed 3 Feb"


@pytest.mark.parametrize(
    ("words", "count"), [(["2"], 2), (["--minutes", "5"], 2), (["--area", "neurology"], 0)]
)
def test_how_many_can_be_said(base: Callable[..., object], words: list[str], count: int) -> None:
    """By number, by minutes (108 s and 0.35 x 120 s of review are 150 s each), or by area."""
    rows = [f"2027-02-01 north:{n} wrong - first" for n in range(1, 10)]
    files = {"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows)}
    command = ["--base", str(base(files)), "retry", *words, "--as-of", "2027-02-14"]
    text = CliRunner().invoke(main, command).stdout
    assert sum(line.startswith("north:") for line in text.splitlines()) == count


def test_the_questions_of_each_source_come_in_pages(base: Callable[..., object]) -> None:
    """Of nine, in pages of four, the last page has one; the line below leads to the page after."""
    rows = [f"2027-02-01 north:{n} wrong - first" for n in range(1, 10)]
    files = {"study.yaml": study(OFFICE), "log/attempts-a.csv": attempts(*rows)}
    command = ["--base", str(base(files)), "retry", "9", "--limit", "4", "--as-of", "2027-02-14"]
    pages = [CliRunner().invoke(main, [*command, "--page", str(n)]).stdout for n in (1, 2, 3)]
    found = [
        [line.split()[0] for line in p.splitlines() if line.startswith("north:")] for p in pages
    ]
    assert [len(page) for page in found] == [4, 4, 1]
    assert found[2] == ["north:9"]
    assert pages[0].rstrip().endswith("More: missbook retry 9 --limit 4 --page 2")


def test_a_day_without_minutes_offers_some_even_so(base: Callable[..., object]) -> None:
    """On a night shift the plan holds none: how many are due, and how to try a few. On the eve no
    new question is met.
    """
    rows = [f"2027-02-01 north:{n} wrong - first" for n in range(1, 31)]
    rota = f"rota: {{starts: 2027-02-08, weeks: [[{', '.join(['night'] * 7)}]]}}"
    files = {"study.yaml": study(rota), "log/attempts-a.csv": attempts(*rows)}
    root = str(base(files))
    text = CliRunner().invoke(main, ["--base", root, "retry", "--as-of", "2027-02-14"]).stdout
    assert "30 questions are due, but today's plan has no minutes for them." in text
    assert "missbook retry 10" in text
    files["study.yaml"] = study(OFFICE)
    root = str(base(files))
    text = CliRunner().invoke(main, ["--base", root, "plan", "--as-of", "2027-05-10"]).stdout
    assert "You will meet none of 2," in text
    assert "try about 24 of 30 missed ones" in " ".join(text.split())
    assert "Mon 10 May  eve         60" in text


def test_a_wrong_number_is_one_line(base: Callable[..., object]) -> None:
    """What is not a number ends in one line, a hint and exit 2."""
    result = CliRunner().invoke(main, ["--base", str(base()), "retry", "soon"])
    assert (result.exit_code, result.stderr) == (
        2,
        "'soon' is not a number of questions\n  hint: such as missbook retry 40\n",
    )


def test_trying_a_paper_again_leaves_its_score(session: Callable[..., Session]) -> None:
    """119 of 200 stays 119 of 200 when all its misses are right a week later."""
    text = study(OFFICE).replace(
        "held_back:", "  - {source: p, kind: paper, items: 200}\nheld_back:"
    )
    sat = [f"2027-02-01 p:{n} {'right' if n <= 119 else 'wrong'} - paper" for n in range(1, 201)]
    again = [f"2027-02-08 p:{n} right - paper" for n in range(120, 201)]
    log = attempts(*sat, *again).splitlines()
    with_sitting = [log[0] + ",sitting", *(f"{line},p" for line in log[1:])]
    files = {"study.yaml": text, "log/attempts-a.csv": "\r\n".join(with_sitting) + "\r\n"}
    (sitting,) = find_sittings(session(files).base)
    assert (sitting.day, sitting.right_count, sitting.item_count) == (date(2027, 2, 1), 119, 200)
