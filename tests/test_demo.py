"""The demo base: plausible, rich enough to show every feature, and reproducible."""

from __future__ import annotations

import importlib
import re
import shutil
import sys
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from kb.formats.attempt_log import parse_log
from kb.formats.markdown import structure
from kb.knowledge.mixups import rank_mixups
from kb.knowledge.validation import find_problems
from kb.services.session import Session
from kb.stats.note_state import judge, open_misses

if TYPE_CHECKING:
    from kb.core.model import Base

ROOT = Path(__file__).parent.parent
NOTES = ROOT / "notes"
LAST_DAY = date(2027, 4, 5)
LOGS = ("attempts-laptop.csv", "attempts-phone.csv", "readings-laptop.csv")
DELIBERATE = [
    ("infectious-diseases/malaria-severe.md", "not-checked-lately"),
    ("psychiatry/refeeding.md", "no-basis"),
]
DOSE = re.compile(r"\d\s*(?:mg|mcg|µg|microgram|milligram|units?\b|IU\b|g\b(?!/L))", re.I)


@cache
def script(name: str) -> Any:
    """A module of scripts/."""
    folder = str(ROOT / "scripts")
    if folder not in sys.path:
        sys.path.insert(0, folder)
    return importlib.import_module(name)


@pytest.fixture
def whole(demo: Session) -> Base:
    """The demo base with its log."""
    return demo.whole


def bodies() -> list[tuple[str, str]]:
    """Path and text of every note."""
    paths = sorted(NOTES.glob("*/*.md"))
    return [(path.relative_to(NOTES).as_posix(), path.read_text("utf-8")) for path in paths]


def test_the_blueprint_adds_up_to_the_exam(whole: Base) -> None:
    """The exam's 200 questions are spread over at least 16 areas."""
    assert whole.exam.item_count == 200
    assert len(whole.exam.areas) >= 16


def test_there_are_enough_notes(whole: Base) -> None:
    """Every area has a note, and there are at least 90."""
    assert len(whole.notes) >= 90
    bare = {area.id for area in whole.exam.areas} - {a for note in whole.notes for a in note.areas}
    assert not bare


@pytest.mark.parametrize("source", ["north", "harbour"])
def test_the_ranges_of_a_bank_cover_all_its_items(whole: Base, source: str) -> None:
    """Every question number of a bank has an area."""
    bank = whole.study.source(source)
    assert bank is not None
    assert all(bank.area_of(str(item)) for item in range(1, bank.item_count + 1))


def test_every_linked_question_lies_in_its_areas_range(whole: Base) -> None:
    """A note's first area is the one that the bank's numbering gives its questions."""
    for note in whole.notes:
        for question in note.questions:
            source_id, _, item = question.partition(":")
            source = whole.study.source(source_id)
            assert source is not None, question
            assert source.area_of(item) == note.areas[0], (note.path, question)


def test_every_linked_question_was_missed_before_its_note(whole: Base) -> None:
    """The log has a miss of every question before its note was written."""
    for note in whole.notes:
        for question in note.questions:
            missed = [a for a in whole.attempts if a.question == question and not a.right]
            assert any(not note.answered_since(a) for a in missed), (note.path, question)


def test_no_note_gives_a_dose() -> None:
    """No note says how much of a drug to give."""
    assert [path for path, text in bodies() if DOSE.search(text)] == []


def test_every_basis_says_what_it_is_about(whole: Base) -> None:
    """Each basis names its subject, so that it can be looked up again."""
    bare = [
        note.path
        for note in whole.notes
        if note.basis and not re.search(r"chapter on|article on|own|, 202\d, ", note.basis)
    ]
    assert not bare


def test_every_link_between_notes_resolves() -> None:
    """Every link leads to a note."""
    for path, text in bodies():
        for link in structure(text, path, 1)[1]:
            assert (NOTES / link.path).is_file(), (path, link.target)


def test_only_the_deliberate_findings_are_there(whole: Base) -> None:
    """`check` finds one note without a basis, and one fact not checked for a year."""
    found = [(p.place.path, p.code) for p in find_problems(whole, LAST_DAY)]
    assert found == DELIBERATE


def test_the_log_is_that_of_some_months(whole: Base) -> None:
    """The log has about 6,000 answers."""
    assert 5700 <= len(whole.attempts) <= 6300


def test_two_papers_and_the_mock_were_sat_in_the_last_fortnight(whole: Base) -> None:
    """Each was sat near the end of the log, on a day without a shift."""
    sat = {attempt.sitting: attempt.day for attempt in whole.attempts if attempt.sitting}
    assert set(sat) == {"paper-1", "paper-2", "mock"}
    assert all((LAST_DAY - day).days < 14 for day in sat.values())
    assert whole.study.rota is not None
    shift_of = script("demo_months").shift_of
    assert {shift_of(whole.study.rota, day) for day in sat.values()} == {"off"}


def test_no_question_is_missed_more_than_four_times(whole: Base) -> None:
    """In three months, no question is missed more than four times."""
    missed = Counter(attempt.question for attempt in whole.attempts if not attempt.right)
    assert max(missed.values()) <= 4


def test_no_pair_is_taken_for_each_other_too_often(whole: Base) -> None:
    """The worst pair of three months: four times by the remarks alone, six by letters as well."""
    remarks = Counter(attempt.remark for attempt in whole.attempts if " vs " in attempt.remark)
    pairs: Counter[frozenset[str]] = Counter()
    for remark, count in remarks.items():
        pairs[frozenset(remark.split(" vs "))] += count
    assert max(pairs.values()) == 4
    rows = rank_mixups(whole, {})
    assert 4 <= max(row.count for row in rows) <= 6
    assert len(pairs) >= 25


def test_the_second_round_comes_after_the_first(whole: Base) -> None:
    """It repeats questions met before, and begins once the whole north bank has been met."""
    second = [attempt for attempt in whole.attempts if attempt.round == "second"]
    first = [attempt for attempt in whole.attempts if attempt.round == "first"]
    begun = min(attempt.day for attempt in second)
    assert max(attempt.day for attempt in first) < begun
    met = {attempt.question for attempt in first}
    assert {attempt.question for attempt in second} <= met
    assert {f"north:{item}" for item in range(1, 2801)} <= met


def test_there_are_days_without_a_question(whole: Base) -> None:
    """About one day in seven outside night shifts is free, and no note was written on one."""
    assert whole.study.rota is not None
    months = script("demo_months")
    worked = {attempt.day for attempt in whole.attempts}
    days = [months.FIRST_DAY + timedelta(days=n) for n in range(92)]
    free = {
        day
        for day in days
        if day not in worked and months.shift_of(whole.study.rota, day) != "night"
    }
    assert len(free) >= 12
    assert not [note.path for note in whole.notes if note.written_on not in worked]


def test_bank_holidays_are_days_off(whole: Base) -> None:
    """Good Friday, Easter Monday and the early May holiday of 2027 are days off.

    Source: the published list of bank holidays in England and Wales (from memory; Easter Sunday
    by the Gregorian computus is 28 March).
    """
    assert whole.study.rota is not None
    shift_of = script("demo_months").shift_of
    for day in (date(2027, 3, 26), date(2027, 3, 29), date(2027, 5, 3)):
        assert shift_of(whole.study.rota, day) in {"off", "leave"}, day


def test_changed_answers_win_about_two_to_one(whole: Base) -> None:
    """Changes from wrong to right are about twice as common as the reverse, as published.

    Source: LT Benjamin, TA Cavell, WR Shallenberger, Teaching of Psychology 1984;11:133-141
    (57% from wrong to right, 21% from right to wrong; from memory).
    """
    changed = [attempt for attempt in whole.attempts if attempt.first]
    won = sum(attempt.right for attempt in changed)
    lost = sum(attempt.first == attempt.key for attempt in changed)
    assert 1.5 <= won / lost <= 3


def test_the_log_shows_every_feature(whole: Base) -> None:
    """It has enough blanks, changed answers, mix-ups and readings, and a dismissed miss."""
    attempts = whole.attempts
    counts = {
        "blank": sum(attempt.outcome == "blank" for attempt in attempts),
        "changed": sum(bool(attempt.first) for attempt in attempts),
        "mixed up": sum(" vs " in attempt.remark for attempt in attempts),
        "read": len(whole.readings),
        "dismissed": len(whole.dismissals),
    }
    least = {"blank": 1, "changed": 1, "mixed up": 70, "read": 100, "dismissed": 1}
    assert [name for name, count in counts.items() if count < least[name]] == []


@pytest.mark.parametrize(
    ("state", "least"), [("failing", 0.25), ("holding", 0.4), ("untested", 0.09)]
)
def test_notes_stand_in_every_state(whole: Base, state: str, least: float) -> None:
    """A quarter fail, most of the others hold, and some were not tried yet."""
    states = [row.state for row in judge(whole, LAST_DAY)]
    assert states.count(state) >= least * len(states)


def test_some_misses_have_no_note_yet(whole: Base) -> None:
    """As in any base in use, some misses have no note."""
    assert 150 <= len(open_misses(whole, LAST_DAY)) <= 250


def test_no_answer_falls_on_a_night_shift(whole: Base) -> None:
    """No answer is logged on the day of a night shift."""
    assert whole.study.rota is not None
    shift_of = script("demo_months").shift_of
    for day in sorted({a.day for a in whole.attempts}):
        assert shift_of(whole.study.rota, day) != "night", day


def test_one_line_takes_another_back() -> None:
    """The log has one void, and the line it takes back."""
    log = parse_log((NOTES / "log" / LOGS[0]).read_bytes(), LOGS[0])
    assert [void.voids for void in log.voids if void.voids in {a.id for a in log.attempts}]


def test_the_same_seed_gives_the_same_log(tmp_path: Path) -> None:
    """Two runs of the generator write the same bytes."""
    make = script("make_demo").make
    make(NOTES, tmp_path / "one")
    make(NOTES, tmp_path / "two")
    for name in LOGS:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


def test_the_log_in_the_base_is_the_one_the_script_makes(tmp_path: Path) -> None:
    """The log in notes/ is what scripts/make_demo.py writes."""
    script("make_demo").make(NOTES, tmp_path)
    for name in LOGS:
        made = (tmp_path / name).read_bytes()
        stored = (NOTES / "log" / name).read_bytes()
        assert stored.splitlines() == made.splitlines(), name


def test_another_seed_gives_another_log(tmp_path: Path) -> None:
    """Another seed gives another log."""
    make = script("make_demo").make
    make(NOTES, tmp_path / "one", 1)
    make(NOTES, tmp_path / "two", 2)
    assert (tmp_path / "one" / LOGS[0]).read_bytes() != (tmp_path / "two" / LOGS[0]).read_bytes()


def test_a_note_older_than_its_miss_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A note dated before its question could have been missed is refused by name."""
    copy = tmp_path / "notes"
    shutil.copytree(NOTES, copy)
    note = copy / "psychiatry" / "refeeding.md"
    text = re.sub(r"^written: .*$", "written: 2027-01-05", note.read_text("utf-8"), flags=re.M)
    note.write_bytes(text.encode())
    status = script("make_demo").main(["--notes", str(copy), "--out", str(tmp_path / "log")])
    assert status == 2
    assert "psychiatry/refeeding.md: written 2027-01-05" in capsys.readouterr().err


def test_a_big_base_is_made_the_same_every_time(tmp_path: Path) -> None:
    """Two runs write the same files, and `check` finds nothing."""
    main = script("make_base").main
    for name in ("one", "two"):
        assert main(["--notes", "40", "--attempts", "600", str(tmp_path / name)]) == 0
    one, two = (
        {p.relative_to(root): p.read_bytes() for p in sorted(root.rglob("*")) if p.is_file()}
        for root in (tmp_path / "one", tmp_path / "two")
    )
    assert one == two
    now = datetime(2027, 4, 5, 22, tzinfo=UTC)
    base = Session(tmp_path / "one", now=now, device="test").whole
    assert len(base.notes) == 40
    assert len(base.attempts) == 600
    assert find_problems(base, LAST_DAY) == ()


def test_a_big_base_is_never_written_over_another(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A folder that is not empty is refused in one line and left unchanged."""
    (tmp_path / "mine.md").write_text("mine", encoding="utf-8")
    assert script("make_base").main([str(tmp_path)]) == 2
    assert "the folder is not empty" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["mine.md"]
