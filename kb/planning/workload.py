"""What is still to be done, read from the base: the input of the plan, and the plan itself."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

from kb.core.answers import Answers
from kb.core.base_views import split_after
from kb.core.ids import AreaId, NoteId, QuestionId, whole_number
from kb.core.last_base import kept_for_last_base
from kb.core.model import Base
from kb.core.settings import PlanSettings, Rota
from kb.planning.held_back import CHECK_COUNT, bank_questions, kept_unseen, protected, release_day
from kb.planning.missed import waiting
from kb.planning.pace import Pace, in_paper, pace_of, paper_prefixes
from kb.planning.paper_days import CHECKS, HELD_BACK, PaperWork, review_minutes
from kb.planning.plan_records import AreaWork, Plan, Returning, Spent, Work
from kb.planning.reading_list import candidates
from kb.planning.scheduler import order_areas, schedule
from kb.planning.study_days import OFFICE, StudyDay, study_days
from kb.stats.history import history_of
from kb.stats.note_state import judge
from kb.stats.papers import ability_of

REVIEW_DAYS = 3
"""A paper sat longer ago has been gone through, or will not be."""
SAT_FRACTION = 0.5
"""A part counts as sat once half of its questions are answered."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Situation:
    """All that the plan depends on. `bank_count` questions are declared, `kept_count` held back."""

    today: date
    exam_day: date
    zone: str
    rota: Rota
    work: Work
    settings: PlanSettings
    bank_count: int
    kept_count: int

    def days(self) -> tuple[StudyDay, ...]:
        """What each day leaves, from today to the eve of the exam."""
        last = self.exam_day - timedelta(days=1)
        if last < self.today:
            return ()
        return study_days(self.rota, ZoneInfo(self.zone), self.today, last)


def plan_for(now: Situation) -> Plan:
    """The plan for one situation."""
    return schedule(now.days(), now.work, now.settings, now.exam_day)


@kept_for_last_base
def plan_of(base: Base, today: date) -> tuple[Situation, Plan]:
    """The situation of a base and its plan: what every report, list and calendar goes by."""
    now = situation(base, today)
    return now, plan_for(now)


def area_marks(base: Base) -> dict[AreaId, float]:
    """Marks at risk in each area of the blueprint: its questions x the chance of missing one.

    Before the first answer every question counts as at risk.
    """
    if not base.attempts:
        return {area.id: float(area.item_count) for area in base.exam.areas}
    ability = ability_of(base, history_of(base.attempts))
    return {a.id: a.item_count * (1 - ability.chance(a.id)) for a in base.exam.areas}


def situation(base: Base, today: date, marks: Mapping[AreaId, float] | None = None) -> Situation:
    """What the log shows to be done and what is left, as of `today`.

    Args:
        base: The base as it is on `today`.
        today: The first day to plan.
        marks: Marks at risk by area; if not given, as they were on Monday, so that the areas of a
            week stay the same, and with the notes weighed by their marks at risk today.
    """
    settings, exam, study = base.study.plan, base.exam, base.study
    weighed: dict[NoteId, float] = {}
    failing: list[NoteId] = []
    if marks is None:
        monday = today - timedelta(days=today.weekday())
        before, _ = split_after(base.attempts, monday - timedelta(days=1))
        marks = area_marks(replace(base, attempts=before))
        rows = judge(base, today) if base.notes else ()
        weighed = {row.note: row.marks for row in rows}
        failing = [row.note for row in rows if row.state == "failing"]
    bank = bank_questions(study)
    answers = Answers.of(base.attempts)
    met = answers.distinct("question")
    kept = kept_unseen(base)
    held = protected(base, kept, today)
    pace = pace_of(base)
    worth = worth_by_area(bank, marks)
    areas = _left((area for q, area in bank.items() if q not in met and q not in kept), worth)
    later = protected(base, kept, max(today, release_day(exam.date)))
    released = _left((area for q, area in bank.items() if q in kept and q not in later), worth)
    second = answers.distinct("question", answers.equals("round", "second")) & bank.keys()
    return Situation(
        today=today,
        exam_day=exam.date,
        zone=study.timezone,
        rota=study.rota or OFFICE,
        work=Work(
            areas=order_areas(areas, settings.area_order),
            released=order_areas(released, settings.area_order),
            released_from=release_day(exam.date),
            returning=_returning(base),
            mixed_count=max(0, round(settings.second_fraction * len(bank)) - len(second)),
            papers=(*papers_left(base), *_checks(base, today, len(held))),
            baseline=not any(_sat_items(base).values()) and not base.scores,
            reviews=_reviews(base, today),
            notes=candidates(base, weighed, failing),
            pace=pace,
            spent=_spent(base, today, pace),
        ),
        settings=settings,
        bank_count=len(bank),
        kept_count=len(held),
    )


def worth_by_area(
    bank: Mapping[QuestionId, AreaId], marks: Mapping[AreaId, float]
) -> dict[AreaId, float]:
    """Marks at risk on one question of each area; one of unknown area counts as the mean."""
    held = Counter(bank.values())
    mean = sum(marks.values()) / max(1, len(bank))
    return {a: marks.get(a, 0.0) / n if a else mean for a, n in held.items()}


def _left(areas: Iterable[AreaId], worth: Mapping[AreaId, float]) -> list[AreaWork]:
    """The work of questions, of which the area of each is given."""
    return [AreaWork(area=a, count=n, worth=worth[a]) for a, n in Counter(areas).items()]


def _returning(base: Base) -> tuple[Returning, ...]:
    rows = Counter(waiting(base, base.exam.date)[0])
    return tuple(
        Returning(due=due, right_count=right, count=count)
        for (due, right), count in sorted(rows.items())
    )


def part_items(base: Base) -> int:
    """Questions of one part of the exam."""
    return max(1, base.exam.item_count // base.exam.paper_count)


def _sat_items(base: Base) -> dict[str, Counter[int]]:
    """For each paper and mock, how many questions of each of its parts were answered."""
    each = part_items(base)
    found = {s.id: Counter[int]() for s in base.study.sources if s.is_paper}
    for question in Answers.of(base.attempts).distinct("question") if found else ():
        source, _, item = question.partition(":")
        if source in found and (number := whole_number(item)):
            found[source][(number - 1) // each + 1] += 1
    return found


def papers_left(base: Base) -> tuple[PaperWork, ...]:
    """Papers declared and not sat, or the parts of them that were not; mocks last."""
    answered, each = _sat_items(base), part_items(base)
    scored = {score.sitting for score in base.scores}
    found = []
    for source in sorted(base.study.sources, key=lambda s: s.kind == "mock"):
        done = answered.get(source.id)
        if done is None or source.id in scored or (done and not source.item_count):
            continue
        items = source.item_count or base.exam.item_count
        count = max(1, round(items / each))
        left = tuple(n for n in range(1, count + 1) if done[n] < SAT_FRACTION * items / count)
        if left:
            found.append(
                PaperWork(
                    name=source.id,
                    title=source.name,
                    items=items,
                    parts=left,
                    part_count=count,
                    part_minutes=base.exam.paper_minutes,
                )
            )
    return tuple(found)


def _checks(base: Base, today: date, held_count: int) -> list[PaperWork]:
    """Checks on held-back questions that lie ahead and were not done in their days."""
    found = []
    least = CHECK_COUNT * SAT_FRACTION
    held = frozenset(base.held_back)
    for far, near in CHECKS:
        since = base.exam.date - timedelta(days=far + REVIEW_DAYS)
        if held_count < least or near > (base.exam.date - today).days:
            continue
        answers = Answers.of(base.attempts)
        used = answers.distinct("question", answers.days >= since.toordinal()) & held
        if len(used) < least:
            found.append(
                PaperWork(
                    name=HELD_BACK,
                    title="Held-back questions",
                    items=min(CHECK_COUNT, held_count),
                    parts=(1,),
                    part_count=1,
                    part_minutes=base.exam.paper_minutes,
                    window=(far, near),
                )
            )
    return found


def _reviews(base: Base, today: date) -> tuple[tuple[str, int], ...]:
    """Papers sat in the last days, with what is left of their review.

    What the rota left on the days since then counts as used for it.
    """
    papers, each = paper_prefixes(base), part_items(base)
    earlier, late = split_after(base.attempts, today - timedelta(days=REVIEW_DAYS + 1))
    before, first = earlier.distinct("question"), {a.question: a.day for a in reversed(late)}
    sat = Counter(
        (a.source, a.day)
        for a in late
        if in_paper(a, papers) and a.question not in before and first[a.question] == a.day
    )
    rota, zone = base.study.rota or OFFICE, ZoneInfo(base.study.timezone)
    found = []
    for (name, day), items in sat.items():
        minutes = items * base.exam.paper_minutes / each
        need = float(review_minutes(round(minutes)))
        past = study_days(rota, zone, day, today)[:-1]
        for one in past:
            room = one.minutes - minutes if one.day == day else one.minutes
            need -= max(0.0, room)
        if need > 0:
            found.append((name, round(need)))
    return tuple(found)


def _spent(base: Base, today: date, pace: Pace) -> Spent:
    """Minutes used today already, by kind; a wrong answer counts with its review."""
    papers = paper_prefixes(base)
    earlier, late = split_after(base.attempts, today - timedelta(days=1))
    missed = earlier.distinct("question", ~earlier.rights) if late else set()
    minutes: dict[str, float] = {}
    for attempt in late:
        kind = "missed" if attempt.question in missed else "other"
        kind = "paper" if in_paper(attempt, papers) else kind
        usual = pace.retry_seconds if kind == "missed" else pace.seconds
        review = 0.0 if attempt.right or kind == "paper" else pace.review_seconds
        minutes[kind] = minutes.get(kind, 0.0) + ((attempt.seconds or usual) + review) / 60
    read = sum(r.seconds or 0.0 for r in base.readings if r.at.date() == today) / 60
    return Spent(
        notes=read,
        missed=minutes.get("missed", 0.0),
        other=minutes.get("other", 0.0),
        paper=minutes.get("paper", 0.0),
    )
