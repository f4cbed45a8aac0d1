"""What to do on which day, and what will be left unmet.

Notes that are due, missed questions again, new questions by marks at risk, and the papers you
have declared, each with its review. Worked out afresh from the log and the rota every time.
--what-if tries other settings, such as "minutes=+30, exam=2027-06-01, papers=2, off=300,
free_days_a_week=1"; nothing is changed by it.
"""

from bisect import bisect_left
from dataclasses import replace
from datetime import date, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from kb.core.model import Base
from kb.core.settings import Exam, Study
from kb.core.wording import counted, listed, short_day
from kb.planning.plan_records import DayPlan, Plan
from kb.planning.rest_checks import rest_cautions
from kb.planning.what_if import what_if as changed_by
from kb.planning.what_if import with_minutes
from kb.planning.workload import Situation, plan_for, plan_of, situation
from kb.presentation.report_model import (
    Column,
    Fact,
    Facts,
    Option,
    Report,
    Table,
    day_line,
    paragraphs,
)
from kb.reports.rota import assumed

OPTIONS = (
    Option("days", "int", default=14, least=1, unit="days", help="Days to show."),
    Option(
        "what_if", "text", default="", unit="settings", help="Settings to try, such as minutes=+30."
    ),
)
DAY_COLUMNS = (
    Column("date", "Date", "date", quiet=True),
    Column("day", "Day"),
    Column("shift", "Shift"),
    Column("minutes", "Minutes", "count"),
    Column("note_count", "Notes", "count"),
    Column("missed_count", "Missed", "count"),
    Column("new_count", "New", "count"),
    Column("mixed_count", "Mixed", "count"),
    Column("spare_minutes", "Spare", "count"),
    Column("break_minutes", "Breaks", "count"),
    Column("work", "Paper or reason"),
    Column("new_areas", "Areas", quiet=True),
)
OPTIONAL = ("mixed_count", "spare_minutes", "break_minutes")
MOST_CAUTIONS = 3
SPARE_MINUTES = 5
"""Less than this is left over by rounding to whole questions, and not worth showing."""
TERMS = (
    ("Notes", "notes due for another look: missbook reread"),
    ("Missed", "questions missed before that are due again: missbook retry"),
    ("New", "questions you have not met, by marks at risk; the areas change on Mondays"),
    ("Mixed", "questions at random from your banks: missbook draw"),
    ("Spare", "minutes that the plan does not need; they are rest"),
    ("part", "half of a paper: 100 questions in three hours"),
)
MOST_MINUTES = 180
SHORT_AREAS = 3


def build(base: Base, today: date, *, days: int, what_if: str) -> Report:
    """What will be met, the coming days, papers, and cautions."""
    now, usual = plan_of(base, today)
    changed, plan, exam = now, usual, base.exam
    if what_if.strip():
        changed = situation(changed_by(base, what_if), today)
        plan = plan_for(changed)
    without = f"Without it: {_verdict(now, usual, exam)}" if what_if.strip() else ""
    blocks = paragraphs(_verdict(changed, plan, exam), without, _rest(changed, plan))
    shown = _shown(changed, plan, days, base)
    blocks += [shown] if any(day.used_minutes or day.paper for day in plan.days) else []
    blocks += [*paragraphs(*_more(changed, plan, base, days)), _basis(changed)]
    blocks += paragraphs(assumed(base), _of_no_size(base), quiet=True)
    blocks += paragraphs(*_cautions(changed, days))
    return Report(
        f"Plan if {what_if.strip()}" if what_if.strip() else "Plan",
        tuple(blocks),
        right=day_line(today, changed.exam_day),
        cites=("smith1956", "cepeda2008", "eu2003"),
        terms=(*TERMS, *_costs(changed)),
    )


def _verdict(now: Situation, plan: Plan, exam: Exam) -> str:
    if not plan.days:
        return "No day is left before the exam."
    if not now.bank_count:
        return (
            "Nothing planned yet: name your question bank in study.yaml, with its number of"
            " questions, and log a first block."
        )
    hours = f"{counted(round(sum(day.minutes for day in plan.days) / 60), 'hour')} left."
    again = _again(plan)
    if plan.behind and not plan.new_end:
        return f"{hours} You will meet none of {plan.new_count:,} new questions{again}."
    if plan.behind:
        met = plan.new_count - plan.unmet_count
        short = sorted(plan.unmet, key=lambda row: -row[1])[:SHORT_AREAS]
        names = listed([exam.area_name(area) for area, _ in short if area])
        tail = f" The rest stays unmet{f': mostly {names}' if names else ''}."
        new = f"You will meet about {met:,} of {plan.new_count:,} new questions, most marks first"
        return f"{hours} {new}{again}.{tail}"
    if plan.new_end:
        end = short_day(plan.new_end)
        return f"{hours} You will meet all {plan.new_count:,} new questions by {end}{again}."
    return f"{hours} Every question of your banks has been met{again}."


def _again(plan: Plan) -> str:
    if not plan.missed_count:
        return ""
    if plan.missed_left:
        tried = plan.missed_count - plan.missed_left
        return f", and try about {tried:,} of {plan.missed_count:,} missed ones again"
    every = f"all {plan.missed_count:,}" if plan.missed_count > 1 else "the one"
    return f", and try {every} missed {'ones ' if plan.missed_count > 1 else ''}again"


def _shown(now: Situation, plan: Plan, count: int, base: Base) -> Table:
    """The coming days, without the columns in which nothing is."""
    rows = tuple(_row(day, base, now) for day in plan.days[:count])
    kept = [
        place
        for place, column in enumerate(DAY_COLUMNS)
        if column.key not in OPTIONAL or any(row[place] for row in rows)
    ]
    return Table("days", DAY_COLUMNS, rows).only(kept)


def _row(day: DayPlan, base: Base, now: Situation) -> tuple[object, ...]:
    used = day.day == now.today and now.work.spent.minutes and not day.used_minutes
    spare = round(day.spare_minutes)
    return (
        day.day,
        f"{day.day:%a} {day.day.day:>2} {day.day:%b}",
        day.shift,
        day.minutes,
        day.note_count,
        day.missed_count,
        day.new_count,
        day.mixed_count,
        spare if spare >= SPARE_MINUTES else 0,
        day.break_minutes,
        "all used" if used else paper_text(day, base.study),
        areas_text(day, base.exam),
    )


def paper_text(day: DayPlan, study: Study) -> str:
    """The paper of a day, what is reviewed, and why the day is short."""
    parts = [day.paper.text] if day.paper else []
    if day.review:
        own = day.paper and day.review == day.paper.paper.name
        text = "its review" if own else f"review of {reviewed(day, study)}"
        parts.append(f"{text}, {day.review_minutes} min")
    if day.why:
        parts.append(day.why)
    return "; ".join(parts)


def reviewed(day: DayPlan, study: Study) -> str:
    """The papers that are reviewed on a day, by name."""
    found = [(study.source(own), own) for own in day.review.split(" and ")]
    return listed([source.name if source else f"the {own}" for source, own in found])


def areas_text(day: DayPlan, exam: Exam) -> str:
    """`27 Infectious diseases, 27 Pharmacology`; empty where no question has a known area."""
    if not any(area for area, _ in day.new):
        return ""
    return ", ".join(f"{n} {exam.area_name(area) or 'of any area'}" for area, n in day.new)


def _more(now: Situation, plan: Plan, base: Base, days: int) -> list[str]:
    """The areas of this week, papers not among the `days` shown, and what more time would do."""
    lines = []
    week = now.today + timedelta(days=7 - now.today.weekday())
    areas = dict.fromkeys(area for day in plan.days if day.day < week for area, _ in day.new)
    names = [base.exam.area_name(area) for area in areas if area]
    if names:
        more = len(names) - SHORT_AREAS
        names = [*names[:SHORT_AREAS], f"{more} more areas"] if more > 1 else names
        lines.append(f"New questions until Sunday: {listed(names)}.")
    later = [
        f"{d.paper.text} on {d.day:%a} {short_day(d.day)}" for d in plan.days[days:] if d.paper
    ]
    if later:
        lines.append(f"Papers later: {'; '.join(later)}.")
    for why, left_out in groupby(plan.papers_out, key=lambda row: row[1]):
        named = listed([base.study.source_name(name) for name, _ in left_out])
        lines.append(f"Not planned: {named} ({why}).")
    return [*lines, _more_minutes(now) if plan.behind else ""]


def _more_minutes(now: Situation) -> str:
    """The fewest more minutes a day that let every new question be met, if any do."""

    def behind(extra: int) -> bool:
        return plan_for(replace(now, rota=with_minutes(now.rota, extra))).behind

    if behind(MOST_MINUTES):
        return ""
    least = bisect_left(range(MOST_MINUTES), True, lo=1, key=lambda extra: not behind(extra))
    return f"{counted(least, 'more minute')} on each study day would let you meet them all."


def _rest(now: Situation, plan: Plan) -> str:
    """How much of the time until the exam is kept free of study, if any was asked for."""
    kept = [day for day in now.days() if day.rest_minutes]
    if not kept:
        return ""
    free = sum(not day.minutes for day in kept)
    parts = [f"keeps {counted(free, 'day')} free of study"] if free else []
    if len(kept) > free:
        parts.append(f"shortens {counted(len(kept) - free, 'day')}")
    minutes = sum(day.rest_minutes for day in kept)
    long = f"{minutes} minutes" if minutes < 120 else f"{minutes / 60:.0f} hours"
    behind = ", though the time is short" if plan.behind else ""
    return f"Rest {' and '.join(parts)}, {long} in all; it stays free{behind}."


def _basis(now: Situation) -> Facts:
    """What a question is taken to cost, for JSON."""
    pace = now.work.pace
    facts: tuple[Fact, ...] = (
        ("pace_seconds", "Pace", pace.seconds, "seconds"),
        ("retry_seconds", "Retry", pace.retry_seconds, "seconds"),
        ("miss_fraction", "Wrong", pace.miss_fraction, "fraction"),
        ("retry_miss_fraction", "Wrong again", pace.retry_miss_fraction, "fraction"),
        ("review_seconds", "Review", pace.review_seconds, "seconds"),
        ("kept_count", "Held back", now.kept_count, "count"),
    )
    return Facts("basis", facts, quiet=True)


def _costs(now: Situation) -> tuple[tuple[str, str], ...]:
    """What a question is taken to cost, and from what."""
    pace = now.work.pace
    new = f"{pace.seconds:.0f} s"
    if pace.timed_count:
        new += f", measured on {pace.timed_count} answers"
    elif pace.seconds == now.settings.seconds:
        new += ", as set"
    else:
        new += ", the exam's own until 20 answers are timed"
    review = f"{pace.review_seconds:.0f} s"
    if pace.note_seconds:
        review += f" on average, {pace.note_seconds:.0f} s with a note"
    share, again = f"{100 * pace.miss_fraction:.0f}%", f"{100 * pace.retry_miss_fraction:.0f}%"
    return (
        ("a new question", f"{new}; {share} are missed"),
        ("a missed question again", f"{pace.retry_seconds:.0f} s; {again} are missed again"),
        ("review of a wrong answer", review),
        ("held back", f"{now.kept_count} questions, unseen until three weeks before the exam"),
    )


def _of_no_size(base: Base) -> str:
    """The banks of which no question can be planned."""
    banks = [source for source in base.study.sources if source.kind == "bank"]
    unknown = [source.id for source in banks if not source.item_count and not source.ranges]
    named = f"Not planned, since study.yaml gives no number of questions: {', '.join(unknown)}."
    return named if unknown else ""


def _cautions(now: Situation, days: int) -> list[str]:
    """Where rest falls short."""
    last = min(now.exam_day, now.today + timedelta(days=max(days, 28) - 1))
    found = rest_cautions(now.rota, ZoneInfo(now.zone), now.today, last)
    days_of: dict[str, list[str]] = {}
    for caution in found:
        days_of.setdefault(caution.text, []).append(short_day(caution.day))
    texts = [f"Rest on {listed(of)}: {text}." for text, of in days_of.items()]
    more = "Rest falls short on other days too: missbook rota lists them."
    return [*texts[:MOST_CAUTIONS], more] if len(texts) > MOST_CAUTIONS else texts
