"""What heads a report whatever it shows: areas that exam.yaml lacks, and the week's progress; in an
empty base, what comes first.
"""

from collections import Counter
from dataclasses import replace
from datetime import date

from kb.core.answers import Answers
from kb.core.model import Base
from kb.core.wording import counted, listed
from kb.planning.progress import progress_line
from kb.presentation.report_model import Report, Text

PROGRESS = "progress"
"""Key of the line about the week's progress."""
PLANNING = ("today", "plan", "reread")
"""Reports that can say something as soon as a source is declared."""
JUDGING = (
    *("queue", "standing", "gaps", "brief", "retry", "map"),
    *("forecast", "mixups", "reasons", "certainty"),
)
"""Reports that know nothing before the first answer or note."""
WITH_PROGRESS = ("today", "plan")
"""Reports that this line heads."""


def with_head(report: Report, base: Base, today: date) -> Report:
    """The report with these lines at its top; one that lists all findings has them already."""
    empty = not (base.notes or base.attempts or base.scores)
    if empty and (report.name in JUDGING or not base.study.sources):
        return first_steps(report, base) if report.name in (*PLANNING, *JUDGING) else report
    progress = progress_line(base, today) if report.name in WITH_PROGRESS else ""
    areas = unknown_areas_line(base) if report.name != "check" else ""
    lines = ((progress, PROGRESS), (areas, "unknown_areas"))
    head = (Text(text, key=key) for text, key in lines if text)
    return replace(report, blocks=(*head, *report.blocks))


def first_steps(report: Report, base: Base) -> Report:
    """A report on an empty base: what comes first, and no claim about anything."""
    area, sources = base.exam.areas[0].id, base.study.sources
    source = sources[0].id if sources else "north"
    steps = (
        *(() if sources else ("Name your question sources in study.yaml, under sources:.",)),
        f"Log a first block: missbook log block {source} 1-40 --area {area} --wrong 3,17",
        "Write a note for each miss: missbook note --next",
    )
    texts = ("Nothing is logged yet, so there is nothing to show. What comes first:", *steps)
    return replace(
        report, blocks=tuple(Text(text, key=f"step_{i}") for i, text in enumerate(texts))
    )


def unknown_areas_line(base: Base) -> str:
    """Which areas of the log exam.yaml does not have, with what to do; empty if it has all."""
    known = {area.id for area in base.exam.areas}
    every = Answers.of(base.attempts).counts("area")
    counts = Counter({area: n for area, n in every.items() if area and area not in known})
    if not counts:
        return ""
    named = listed([f"{area} ({counted(n, 'answer')})" for area, n in counts.most_common()])
    first = counts.most_common(1)[0][0]
    return f"exam.yaml does not have {named}. To rename: missbook rename area {first} NEW"
