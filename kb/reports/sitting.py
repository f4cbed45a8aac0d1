"""Timed papers and mocks: what the score was, and what cost the marks.

Without a name, all papers are listed, planned or sat; with one, its score by area against where
you stood before, its pace, changed answers and certainty.
"""

from collections.abc import Sequence
from datetime import date

from kb.core.errors import NotFoundError, nearest
from kb.core.model import Attempt, Base, Score
from kb.core.wording import capital, counted, dated
from kb.planning.calendar_entries import paper_dates
from kb.planning.workload import plan_of
from kb.presentation.papers import papers_table
from kb.presentation.report_model import (
    Block,
    Column,
    Entries,
    Entry,
    Fact,
    Facts,
    Option,
    Report,
    Table,
    Text,
    day_line,
    fields_of,
)
from kb.presentation.terms import LIKELY, span_text
from kb.stats import calibration
from kb.stats.marks_at_risk import Risk
from kb.stats.papers import known_before
from kb.stats.proportions import likely_range
from kb.stats.sitting import (
    Pace,
    Sitting,
    change_between,
    changed_answers,
    find_sittings,
    pace_of,
    parts,
    score_interval,
    time_quantiles,
)
from kb.stats.trend import Trend

OPTIONS = (Option(name="name", kind="words", default="", help="The sitting, such as paper-3."),)
TERMS = (
    ("likely", LIKELY),
    ("expected", "the percentage your standing in the area gave before the paper"),
    ("target", "the exam's own pace: its minutes shared out over its questions"),
    (
        "hurried finish",
        "half the questions of the last quarter took under 0.6 of the usual time of those before",
    ),
    (
        "time cost",
        "what the questions not answered, and those of a hurried finish, would have brought had you"
        " done as well on them as on the others; nothing when a twentieth of the time was left",
    ),
    (
        "since the paper before",
        "'up' or 'down' where chance alone is ruled out (95%)",
    ),
)


def build(base: Base, today: date, *, name: str) -> Report:
    """The list of sittings, or one of them in full."""
    sittings = find_sittings(base)
    bare = bare_sittings(base)
    right = day_line(today, base.exam.date)
    if not name:
        return Report(
            name="sitting",
            title="Papers",
            right=right,
            blocks=tuple(papers_table(base, sittings, bare, paper_dates(plan_of(base, today)[1]))),
        )
    wanted = name.strip().casefold()
    found = [sitting for sitting in sittings if sitting.name == wanted]
    if not found and wanted in bare:
        return Report(
            name="sitting",
            title=wanted,
            right=right,
            blocks=(_bare(base, bare[wanted]),),
            terms=TERMS,
            cites=("wilson1927",),
        )
    if not found:
        hint = nearest(name, [s.name for s in sittings]) or "missbook sitting lists them"
        raise NotFoundError(f"no paper called '{name}'", hint=hint)
    sitting = found[0]
    earlier = [other for other in sittings if (other.day, other.name) < (sitting.day, sitting.name)]
    names = {source.id: source.name for source in base.study.sources}
    official = ", official" if sitting.official else ""
    return Report(
        name="sitting",
        title=f"{capital(names.get(sitting.name) or sitting.name)}, {dated(sitting.day)}{official}",
        right=right,
        blocks=_whole(base, sitting, earlier),
        terms=TERMS,
        cites=("wilson1927", "newcombe1998b", "gardner-medwin1995", "murphy1973"),
    )


def bare_sittings(base: Base) -> dict[str, tuple[Score, ...]]:
    """Scores by sitting, for papers whose single answers are not in the log."""
    answered = {attempt.sitting for attempt in base.attempts if attempt.sitting}
    found: dict[str, tuple[Score, ...]] = {}
    for score in base.scores:
        if score.sitting not in answered:
            found[score.sitting] = (*found.get(score.sitting, ()), score)
    return found


def _bare(base: Base, scores: tuple[Score, ...]) -> Table:
    """What is known of a paper without its answers: its scores against the standing before it."""
    start = min(score.at for score in scores)
    risk = Risk(known_before(base, start), start.date())
    expected = sum(row.exam_fraction * row.mean for row in risk.area_standings())
    rows = []
    for score in scores:
        likely = likely_range(score.right_count, score.item_count)
        stood = risk.chance(score.area) if score.area else expected
        counts = (score.right_count, score.item_count)
        rows.append((score.area or "whole paper", *counts, span_text(likely), stood))
    columns = (
        Column(key="area", label="Area", kind="area"),
        Column(key="right_count", label="Right", kind="count"),
        Column(key="item_count", label="of", kind="count"),
        Column(key="likely", label="Likely", kind="number"),
        Column(key="stands", label="Expected", kind="fraction"),
    )
    return Table(key="areas", columns=columns, rows=tuple(rows))


def _whole(base: Base, sitting: Sitting, earlier: Sequence[Sitting]) -> tuple[Block, ...]:
    blocks: list[Block] = [_score(base, sitting, earlier), *_areas(base, sitting)]
    part_items = max(1, base.exam.item_count // base.exam.paper_count)
    for number, answers in enumerate(parts(sitting, part_items), start=1):
        pace = pace_of(answers, base.exam.seconds_per_item)
        if pace is not None:
            blocks.append(Text(text=f"Part {number}: {_pace(pace)}"))
    blocks += _times(sitting)
    changed = changed_answers(sitting.answers)
    if changed.count:
        gain = f"won {changed.gain}" if changed.gain > 0 else f"lost {-changed.gain}"
        worth = f"That {gain} {'mark' if abs(changed.gain) == 1 else 'marks'}."
        if not changed.gain:
            worth = "That made no difference."
        text = (
            f"Changed {counted(changed.count, 'answer')}: {changed.wrong_to_right} to right,"
            f" {changed.right_to_wrong} from right to wrong,"
            f" {changed.wrong_to_wrong} from wrong to wrong. {worth}"
        )
        blocks.append(Text(text=text))
    blocks += sureness(sitting.answers)
    return tuple(blocks)


def _score(base: Base, sitting: Sitting, earlier: Sequence[Sitting]) -> Facts:
    score = f"{sitting.right_count} of {sitting.item_count}, {100 * sitting.fraction:.0f}%"
    likely = f"{score} (likely {span_text(score_interval(sitting))})"
    facts: list[Fact] = [("score", "Score", likely, "text")]
    if base.exam.pass_fraction is not None:
        need = base.exam.pass_fraction
        facts.append(("pass", "Pass mark", f"{100 * need:.0f}%", "text"))
    facts.append(("blank_count", "Not answered", sitting.blank_count, "count"))
    if earlier:
        points = _change(sitting, earlier[-1])
        facts.append(("change", "Since the paper before", points, "text"))
    return Facts(key="score", facts=tuple(facts))


def _areas(base: Base, sitting: Sitting) -> list[Block]:
    """Score by area against the standing before the paper; the areas that differ most first."""
    start = min(answer.at for answer in sitting.answers)
    risk = Risk(known_before(base, start), sitting.day)
    rows = []
    for area in base.exam.areas:
        own = [answer for answer in sitting.answers if answer.area == area.id]
        if own:
            right = sum(answer.right for answer in own)
            stood = risk.chance(area.id)
            gap = right - stood * len(own)
            likely = likely_range(right, len(own))
            rows.append((gap, area.id, right, len(own), likely, stood))
    if not rows:
        return [
            Text(text="Its questions have no areas, so it cannot be shown by area.", quiet=True)
        ]
    rows.sort(key=lambda row: (round(row[0], 9), row[1]))
    columns = (
        Column(key="area", label="Area", kind="area"),
        Column(key="right_count", label="Right", kind="count"),
        Column(key="item_count", label="of", kind="count"),
        Column(key="likely", label="Likely", kind="number"),
        Column(key="stood", label="Expected", kind="fraction"),
        Column(key="gap", label="+/- marks", kind="number"),
    )
    cells = tuple(
        (area, right, count, span_text(likely), stood, f"{gap:+z.1f}")
        for gap, area, right, count, likely, stood in rows
    )
    return [Table(key="areas", columns=columns, rows=cells)]


def _pace(pace: Pace) -> str:
    spent = f"{pace.spent_minutes:.0f} of {pace.target_minutes:.0f} minutes"
    sentences = [spent]
    if pace.behind_minutes >= 1:
        sentences.append(
            f"{counted(round(pace.behind_minutes), 'minute')} behind after question"
            f" {pace.behind_item}"
        )
    if pace.long_count:
        over = f"{counted(round(pace.long_minutes), 'minute')} over"
        sentences.append(f"{counted(pace.long_count, 'question')} took twice the target, {over}")
    if pace.blank_count:
        sentences.append(f"{pace.blank_count} not answered")
    if pace.rushed:
        late = f"{100 * pace.late_fraction:.0f}% right after {100 * pace.early_fraction:.0f}%"
        sentences.append(f"hurried finish at {pace.last_quarter_seconds:.0f} s a question, {late}")
    if pace.lost_marks >= 0.5:
        span = f"{pace.lost_low:.0f}-{pace.lost_high:.0f}"
        sentences.append(
            f"time cost about {counted(round(pace.lost_marks), 'mark')} (likely {span})"
        )
    return "; ".join(sentences) + "."


def _times(sitting: Sitting) -> list[Block]:
    groups = time_quantiles(sitting.answers)
    if not groups:
        return []
    columns = (
        Column(key="seconds", label="Time taken"),
        Column(key="right_count", label="Right", kind="count"),
        Column(key="tried_count", label="of", kind="count"),
        Column(key="fraction", label="Share", kind="fraction"),
    )
    rows = tuple(
        (
            f"{group.low_seconds:.0f}-{group.high_seconds:.0f} s",
            group.right_count,
            group.tried_count,
            group.right_count / group.tried_count,
        )
        for group in groups
    )
    return [Table(key="times", columns=columns, rows=rows)]


def sureness(answers: Sequence[Attempt]) -> list[Entries]:
    """One sentence for each certainty given, with its likely range."""
    found = calibration.levels(answers)
    if not found:
        return []
    entries = []
    for level in found:
        share, likely = f"{100 * level.fraction:.0f}%", span_text(level.likely)
        name, verdict = calibration.NAMES[level.certainty], level.verdict
        entries.append(
            Entry(
                head=f"When {name}, you are right {share} of the time (likely {likely})",
                right=(f"{level.right_count:,} of {level.tried_count:,}",),
                lines=(f"  {verdict}",) if verdict else (),
                fields=(
                    *fields_of(level, "certainty", "right_count", "tried_count"),
                    ("low", level.likely.low),
                    ("high", level.likely.high),
                ),
            )
        )
    marks = calibration.certainty_marks(answers)
    title = f"Certainty: {marks} certainty-based marks"
    return [Entries(key="certainty", title=title, entries=tuple(entries), numbered=False)]


def _change(sitting: Sitting, before: Sitting) -> str | None:
    """`+2 points (may be chance)`; `+9 points (up)` when chance alone is ruled out (95%)."""
    bounds = change_between(sitting, before)
    if bounds is None:
        return None
    trend = Trend(change=sitting.fraction - before.fraction, low=bounds.low, high=bounds.high)
    return f"{100 * trend.change:+.0f} points ({trend.word})"
