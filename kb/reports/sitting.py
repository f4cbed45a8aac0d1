"""Timed papers and mocks: what the score was, and what cost the marks.

Without a name, all papers are listed, planned or sat; with one, its score by area against where
you stood before, its pace, changed answers and certainty.
"""

from collections.abc import Sequence
from datetime import date

from kb.core.answers import Answers
from kb.core.errors import NotFoundError, nearest
from kb.core.ids import AreaId
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
    fields_of,
    paragraphs,
)
from kb.presentation.terms import LIKELY, span_text
from kb.stats import calibration
from kb.stats.marks_at_risk import Risk
from kb.stats.papers import known_before
from kb.stats.proportions import likely_range, newcombe_change
from kb.stats.sitting import (
    Pace,
    Sitting,
    changed_answers,
    find_sittings,
    pace_of,
    parts,
    time_quantiles,
)
from kb.stats.trend import Trend

OPTIONS = (Option("name", "words", default="", help="The sitting, such as paper-3."),)
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
    ("since the paper before", "'up' or 'down' where chance alone is ruled out (95%)"),
)


def build(base: Base, today: date, *, name: str) -> Report:
    """The list of sittings, or one of them in full."""
    sittings = find_sittings(base)
    bare = bare_sittings(base)
    if not name:
        papers = any(source.is_paper for source in base.study.sources)
        planned = paper_dates(plan_of(base, today)[1]) if papers else {}
        return Report("Papers", tuple(papers_table(base, sittings, bare, planned)))
    wanted = name.strip().casefold()
    found = [sitting for sitting in sittings if sitting.name == wanted]
    if not found and wanted in bare:
        blocks = (_bare(base, bare[wanted]),)
        return Report(wanted, blocks, terms=TERMS, cites=("wilson1927",))
    if not found:
        hint = nearest(name, [s.name for s in sittings]) or "missbook sitting lists them"
        raise NotFoundError(f"no paper called '{name}'", hint=hint)
    sitting = found[0]
    earlier = [other for other in sittings if (other.day, other.name) < (sitting.day, sitting.name)]
    official = ", official" if sitting.official else ""
    return Report(
        f"{capital(base.study.source_name(sitting.name))}, {dated(sitting.day)}{official}",
        _whole(base, sitting, earlier),
        terms=TERMS,
        cites=("wilson1927", "newcombe1998b", "gardner-medwin1995", "murphy1973"),
    )


def bare_sittings(base: Base) -> dict[str, tuple[Score, ...]]:
    """Scores by sitting, for papers whose single answers are not in the log."""
    answered = Answers.of(base.attempts).distinct("sitting")
    found: dict[str, tuple[Score, ...]] = {}
    for score in base.scores:
        if score.sitting not in answered:
            found[score.sitting] = (*found.get(score.sitting, ()), score)
    return found


def _bare(base: Base, scores: tuple[Score, ...]) -> Table:
    """What is known of a paper without its answers."""
    start = min(score.at for score in scores)
    risk = Risk(known_before(base, start), start.date())
    return _by_area(risk, [(score.area, score.right_count, score.item_count) for score in scores])


def _whole(base: Base, sitting: Sitting, earlier: Sequence[Sitting]) -> tuple[Block, ...]:
    blocks: list[Block] = [_score(base, sitting, earlier), _areas(base, sitting)]
    part_items = max(1, base.exam.item_count // base.exam.paper_count)
    for number, answers in enumerate(parts(sitting, part_items), start=1):
        pace = pace_of(answers, base.exam.seconds_per_item)
        if pace is not None:
            blocks.append(Text(f"Part {number}: {_pace(pace)}"))
    blocks += [*_times(sitting), *paragraphs(changes(sitting.answers))]
    return (*blocks, *sureness(sitting.answers))


def changes(answers: Sequence[Attempt]) -> str:
    """What became of the answers that were changed, and what that was worth; empty if none was."""
    changed = changed_answers(answers)
    worth = "made no difference"
    if changed.gain:
        verb = "won" if changed.gain > 0 else "lost"
        worth = f"{verb} {counted(abs(changed.gain), 'mark')}"
    text = (
        f"Changed {counted(changed.count, 'answer')}: {changed.wrong_to_right} to right,"
        f" {changed.right_to_wrong} from right to wrong,"
        f" {changed.wrong_to_wrong} from wrong to wrong. That {worth}."
    )
    return text if changed.count else ""


def _score(base: Base, sitting: Sitting, earlier: Sequence[Sitting]) -> Facts:
    score = f"{sitting.right_count} of {sitting.item_count}, {100 * sitting.fraction:.0f}%"
    likely = f"{score} (likely {span_text(likely_range(sitting.right_count, sitting.item_count))})"
    facts: list[Fact] = [("score", "Score", likely, "text")]
    if base.exam.pass_fraction is not None:
        need = base.exam.pass_fraction
        facts.append(("pass", "Pass mark", f"{100 * need:.0f}%", "text"))
    facts.append(("blank_count", "Not answered", sitting.blank_count, "count"))
    if earlier:
        points = _change(sitting, earlier[-1])
        facts.append(("change", "Since the paper before", points, "text"))
    return Facts("score", tuple(facts))


def _areas(base: Base, sitting: Sitting) -> Block:
    start = min(answer.at for answer in sitting.answers)
    scores = []
    for area in base.exam.areas:
        own = [answer.right for answer in sitting.answers if answer.area == area.id]
        scores += [(area.id, sum(own), len(own))] if own else []
    if not scores:
        return Text("Its questions have no areas, so it cannot be shown by area.", quiet=True)
    return _by_area(Risk(known_before(base, start), sitting.day), scores)


def _by_area(risk: Risk, scores: Sequence[tuple[AreaId, int, int]]) -> Table:
    """Right of asked in each area, or in the whole paper, against the standing before it; what
    differs most comes first.
    """
    whole = sum(row.exam_fraction * row.mean for row in risk.area_standings())
    rows = []
    for area, right, count in scores:
        stood = risk.chance(area) if area else whole
        gap, likely = right - stood * count, span_text(likely_range(right, count))
        cells = (area or "whole paper", right, count, likely, stood, f"{gap:+z.1f}")
        rows.append((round(gap, 9), cells))
    columns = (
        Column("area", "Area", "area"),
        Column("right_count", "Right", "count"),
        Column("item_count", "of", "count"),
        Column("likely", "Likely", "number"),
        Column("stood", "Expected", "fraction"),
        Column("gap", "+/- marks", "number"),
    )
    return Table("areas", columns, tuple(cells for _, cells in sorted(rows)))


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
        Column("seconds", "Time taken"),
        Column("right_count", "Right", "count"),
        Column("tried_count", "of", "count"),
        Column("fraction", "Share", "fraction"),
    )
    rows = []
    for group in groups:
        right, tried = group.right_count, group.tried_count
        span = f"{group.low_seconds:.0f}-{group.high_seconds:.0f} s"
        rows.append((span, right, tried, right / tried))
    return [Table("times", columns, tuple(rows))]


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
    return [Entries("certainty", tuple(entries), title=title, numbered=False)]


def _change(sitting: Sitting, before: Sitting) -> str:
    """`+2 points (may be chance)`; `+9 points (up)` when chance alone is ruled out (95%)."""
    bounds = newcombe_change(
        sitting.right_count, sitting.item_count, before.right_count, before.item_count
    )
    trend = Trend(change=sitting.fraction - before.fraction, low=bounds.low, high=bounds.high)
    return f"{100 * trend.change:+.0f} points ({trend.word})"
