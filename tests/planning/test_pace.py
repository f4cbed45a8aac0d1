"""How long things take the person, worked by hand from answers and readings in memory."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from kb.core.ids import AreaId, AttemptId, NoteId, QuestionId, Round
from kb.core.model import Attempt, Base, Note, Reading
from kb.core.settings import Area, Exam, PlanSettings, Source, Study
from kb.planning.pace import Pace, in_paper, pace_of, paper_prefixes, reading_seconds

EXAM = Exam(
    name="Quill",
    date=date(2027, 5, 11),
    areas=(Area(id=AreaId("a"), name="A", item_count=200),),
)
BEGIN = datetime(2027, 2, 1, 12, tzinfo=UTC)
NO_PLAN = PlanSettings()


def answer(
    number: int,
    seconds: float | None = 60,
    *,
    right: bool = True,
    at: datetime = BEGIN,
    source: str = "north",
    round_: Round = "",
) -> Attempt:
    """One answer to a question of a source."""
    return Attempt(
        id=AttemptId(f"i{number}"),
        at=at,
        question=QuestionId(f"{source}:{number}"),
        outcome="right" if right else "wrong",
        seconds=seconds,
        round=round_,
    )


def pace(*attempts: Attempt, plan: PlanSettings = NO_PLAN, notes: tuple[Note, ...] = ()) -> Pace:
    """The pace that a log shows; `p` and `m` are a paper and a mock."""
    sources = (
        Source(id="north", name="North"),
        Source(id="p", name="P", kind="paper"),
        Source(id="m", name="M", kind="mock"),
    )
    study = Study(sources=sources, plan=plan)
    return pace_of(Base(exam=EXAM, study=study, attempts=attempts, notes=notes))


def test_a_question_is_taken_to_cost_150_seconds_before_anything_is_known() -> None:
    """By hand: 108 s to answer, and 35% wrong at 120 s of review are 42 s, for retries too."""
    usual = Pace()
    assert usual.new_cost == pytest.approx(150)
    assert usual.retry_cost == pytest.approx(150)
    assert (usual.note_seconds, usual.timed_count) == (0, 0)


def test_only_the_last_200_timed_answers_count() -> None:
    """One of 500 s and then 200 of 60 s: the mean is 60 s."""
    found = pace(answer(0, 500), *(answer(n) for n in range(1, 201)), answer(201, None))
    assert (found.seconds, found.timed_count) == (60, 200)


@pytest.mark.parametrize(("seconds", "measured"), [(900, 900), (901, 108)])
def test_more_than_a_quarter_of_an_hour_is_a_break(seconds: float, measured: float) -> None:
    """Twenty answers of 15 minutes are a pace; a second longer, they are not."""
    assert pace(*(answer(n, seconds) for n in range(20))).seconds == measured


def test_only_the_last_200_answers_count_for_the_share_wrong() -> None:
    """By hand: ten wrong, then 200 right: 0 + 3.5 of 200 + 10."""
    wrong = [answer(n, right=False) for n in range(10)]
    right = [answer(n) for n in range(10, 210)]
    assert pace(*wrong, *right).miss_fraction == pytest.approx(3.5 / 210)


def test_a_log_of_misses_only_says_nothing_of_the_share_wrong() -> None:
    """Sixteen misses and nothing right: the usual share stays, 35%; fifteen are taken as they are,
    3.5 + 15 of 25.
    """
    found = [pace(*(answer(n, right=False) for n in range(count))) for count in (15, 16)]
    assert [one.miss_fraction for one in found] == pytest.approx([18.5 / 25, 0.35])


def test_a_retry_is_another_answer_to_a_question_once_missed() -> None:
    """Of 40 repeats, 20 of missed questions took 30 s: 30 s, and 3.5 of 30 are wrong. The other 20,
    of 90 s, count for nothing.
    """
    first = [answer(n, right=n >= 20) for n in range(40)]
    again = [answer(n, 30 if n < 20 else 90) for n in range(40)]
    found = pace(*first, *again)
    assert (found.seconds, found.retry_seconds) == (60, 30)
    assert found.retry_miss_fraction == pytest.approx(3.5 / 30)
    assert found.miss_fraction == pytest.approx(23.5 / 50)


def test_retries_take_as_long_as_new_questions_until_measured() -> None:
    """Nineteen retries of 30 s are too few: 60 s, as a new question."""
    first = [answer(n, right=n >= 19) for n in range(20)]
    again = [answer(n, 30) for n in range(19)]
    assert pace(*first, *again).retry_seconds == 60


@pytest.mark.parametrize("more", [{"source": "p"}, {"source": "m"}, {"round_": "paper"}])
def test_answers_of_a_paper_are_no_pace(more: dict[str, str]) -> None:
    """Twenty answers of 60 s in a paper or a mock leave the exam's own 108 s and 35%."""
    found = pace(*(answer(n, **more) for n in range(20)))  # type: ignore[arg-type]
    assert (found.seconds, found.miss_fraction) == (108, 0.35)


def test_a_question_met_in_a_paper_is_not_new_afterwards() -> None:
    """Twenty missed in a paper and answered again in 30 s are retries, not new questions."""
    sat = [answer(n, right=False, round_="paper") for n in range(20)]
    found = pace(*sat, *(answer(n, 30) for n in range(20)))
    assert (found.seconds, found.retry_seconds) == (108, 30)


def test_a_pace_that_was_set_is_taken_for_all_questions() -> None:
    """75 s set and 60 s measured: 75 s, for retries too, and no answer is said to be timed."""
    first = [answer(n, right=False) for n in range(20)]
    again = [answer(n, 30) for n in range(20)]
    found = pace(*first, *again, plan=PlanSettings(seconds=75, review_seconds=45))
    assert (found.seconds, found.retry_seconds, found.timed_count) == (75, 75, 0)
    assert (found.review_seconds, found.note_seconds) == (45, 0)


def paused(*pauses: float, right: bool = False) -> list[Attempt]:
    """Answers of 60 s each, with these pauses between one and the next."""
    rows, at = [], BEGIN
    for number, pause in enumerate((*pauses, 0)):
        rows.append(answer(number, right=right, at=at))
        at += timedelta(seconds=pause + 60)
    return rows


@pytest.mark.parametrize(("pause", "review"), [(9, 120), (10, 10), (900, 900), (901, 120)])
def test_a_pause_of_ten_seconds_to_a_quarter_of_an_hour_is_a_review(
    pause: float, review: float
) -> None:
    """Twenty of them are measured; outside these limits the usual 120 s are taken."""
    assert pace(*paused(*[pause] * 20)).review_seconds == review


def test_the_median_pause_is_the_review() -> None:
    """Eleven pauses of 50 s and ten of 800 s: 50 s. Nineteen pauses would be too few."""
    assert pace(*paused(*[50] * 11, *[800] * 10)).review_seconds == 50
    few = pace(*paused(*[50] * 19))
    assert (few.review_seconds, few.note_seconds) == (120, 0)


def test_a_pause_after_a_right_answer_is_no_review() -> None:
    """Twenty of them leave the usual 120 s."""
    assert pace(*paused(*[50] * 20, right=True)).review_seconds == 120


def test_a_pause_over_midnight_is_no_review() -> None:
    """Twenty misses just before midnight, each followed by an answer just after it."""
    rows = []
    for number in range(20):
        late = datetime(2027, 2, 1 + number, 23, 59, tzinfo=UTC)
        rows.append(answer(number, right=False, at=late))
        rows.append(answer(100 + number, at=late + timedelta(seconds=120)))
    assert pace(*rows).review_seconds == 120


def noted(numbers: range, on: date = date(2027, 2, 1)) -> tuple[Note, ...]:
    """One note on these questions."""
    questions = tuple(QuestionId(f"north:{n}") for n in numbers)
    return (Note(id=NoteId("n"), path="n.md", title="N", questions=questions, written_on=on),)


def test_reviews_with_a_note_count_by_their_share() -> None:
    """By hand: 20 of 60 s and 40 of 180 s with a note are (1,200 + 7,200) / 60 = 140 s."""
    found = pace(*paused(*[60] * 20, *[180] * 40), notes=noted(range(20, 60)))
    assert (found.review_seconds, found.note_seconds) == (140, 180)


def test_with_few_notes_all_reviews_are_taken_together() -> None:
    """By hand: 20 of 60 s and 10 of 180 s: the median of all is 60 s. With ten of each, 120 s."""
    found = pace(*paused(*[60] * 20, *[180] * 10), notes=noted(range(20, 30)))
    assert (found.review_seconds, found.note_seconds) == (60, 0)
    found = pace(*paused(*[60] * 10, *[180] * 10), notes=noted(range(10, 20)))
    assert (found.review_seconds, found.note_seconds) == (120, 0)


def test_a_note_of_another_day_was_not_written_in_the_pause() -> None:
    """By hand: all 60 pauses count as plain, 20 of 60 s and 40 of 180 s; their median is 180 s."""
    later = noted(range(20, 60), date(2027, 2, 2))
    found = pace(*paused(*[60] * 20, *[180] * 40), notes=later)
    assert (found.review_seconds, found.note_seconds) == (180, 0)


def minute_of_reading(*seconds: float | None, words: int = 100) -> float:
    """Seconds that a note of 200 words takes after readings of a note of `words`."""
    one = Note(id=NoteId("one"), path="one.md", title="One", word_count=words)
    asked = Note(id=NoteId("two"), path="two.md", title="Two", word_count=200)
    readings = tuple(
        Reading(id=f"r{n}", at=BEGIN, note=one.id, seconds=s) for n, s in enumerate(seconds)
    )
    return reading_seconds(Base(exam=EXAM, study=Study(), notes=(one,), readings=readings))(asked)


def test_reading_speed_is_measured_by_ten_readings() -> None:
    """By hand: 100 words in 40 s, 10 of them to open it, are 200 words a minute, so 200 words take
    70 s. Until then 110 words a minute: 10 + 60 x 200 / 110 s.
    """
    assert minute_of_reading(*[40] * 10) == 70
    assert minute_of_reading(*[40] * 9, None) == pytest.approx(10 + 12000 / 110)


def test_only_the_last_hundred_readings_count() -> None:
    """One of 800 s and then 100 of 40 s: 200 words a minute."""
    assert minute_of_reading(800, *[40] * 100) == 70


@pytest.mark.parametrize("odd", [10, 901])
def test_a_glance_or_a_break_is_no_reading(odd: float) -> None:
    """No longer than it takes to open, or over a quarter of an hour: nine others are too few."""
    assert minute_of_reading(odd, *[40] * 9) == pytest.approx(10 + 12000 / 110)


def test_a_quarter_of_an_hour_is_a_reading_still() -> None:
    """By hand: 100 words in 890 s, 200 in 1,780 s, and 10 s to open."""
    assert minute_of_reading(*[900] * 10) == pytest.approx(1790)


def test_an_empty_note_shows_no_speed() -> None:
    """Ten readings of a note without words leave 110 words a minute."""
    assert minute_of_reading(*[40] * 10, words=0) == pytest.approx(10 + 12000 / 110)


def test_an_answer_is_part_of_a_paper_by_its_round_or_its_source() -> None:
    """References begin with the source and a colon: `pa:1` is not of the paper `p`."""
    sources = (Source(id="p", name="P", kind="paper"), Source(id="pa", name="Pa"))
    papers = paper_prefixes(Base(exam=EXAM, study=Study(sources=sources)))
    assert papers == ("p:",)
    assert in_paper(answer(1, source="p"), papers)
    assert not in_paper(answer(1, source="pa"), papers)
    assert in_paper(answer(1, source="pa", round_="paper"), papers)
