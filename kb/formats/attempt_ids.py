"""Which answers are one and the same: ids made from their content, and the union of log files."""

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, time

import numpy as np

from kb.core.errors import Problem
from kb.core.ids import NO_AREA, AttemptId, digest
from kb.core.model import Attempt, Dismissal
from kb.formats.attempt_log import LogFile, Void, cells_of
from kb.formats.csv_lines import one_line
from kb.formats.logged_answers import LoggedAnswers, joined

TOLD = (
    *("question", "outcome", "first", "chosen", "key", "certainty", "seconds", "reason", "round"),
    *("sitting", "remark"),
)
"""What an id stands for, besides the moment."""


def attempt_id(attempt: Attempt, when: str, occurrence: int) -> AttemptId:
    """The id of an attempt: a digest of what it says, its `batch`, `area` and `place` left out.

    `when` is the moment, or the day if only that was given, so that the same sheet logged twice
    gives the same ids; so many equal lines precede it in the same import.
    """
    cells = cells_of(attempt)
    return AttemptId(digest(when, *(cells[name] for name in TOLD), str(occurrence)))


def with_ids(drafts: Iterable[Attempt], batch: str, *, day_only: bool) -> tuple[Attempt, ...]:
    """Give every attempt of one import its id and its batch."""
    seen: dict[AttemptId, int] = {}
    found: list[Attempt] = []
    for draft in drafts:
        clean = replace(draft, remark=one_line(draft.remark), batch=batch)
        when = clean.day.isoformat() if day_only else clean.at.isoformat()
        first = attempt_id(clean, when, 0)
        occurrence = seen.get(first, 0)
        seen[first] = occurrence + 1
        own = first if not occurrence else attempt_id(clean, when, occurrence)
        found.append(replace(clean, id=own))
    return tuple(found)


def merge(
    files: Sequence[LogFile],
) -> tuple[LoggedAnswers, tuple[Dismissal, ...], list[Problem]]:
    """The union of several log files, without what was voided.

    The same line in two files (a synchroniser's copy, or one sheet logged on two devices) counts
    once; one id with different content is a Problem, and the first line is kept. Attempts are in
    order of time, then id.
    """
    every = joined([file.attempts for file in files])
    dismissals: dict[str, Dismissal] = {}
    voids: list[Void] = []
    problems: list[Problem] = []
    for file in files:
        problems.extend(file.problems)
        voids.extend(file.voids)
        dismissals |= {dismissed.id: dismissed for dismissed in file.dismissals}
    ids, voided = every.ids, voided_ids(voids)
    left = ~every.named(voided)
    if len(set(ids)) != len(ids):
        first: dict[str, int] = {}
        for place, own in enumerate(ids):
            if first.setdefault(own, place) != place:
                left[place] = False
                earlier, attempt = every[first[own]], every[place]
                if content(earlier) != content(attempt):
                    message = f"the id {own} is there twice with different content"
                    hint = f"the first is kept ({earlier.place}); give the other line a new id"
                    problems.append(Problem(attempt.place, "duplicate-id", message, hint))
    places = np.flatnonzero(left)
    order = places[np.argsort(every.moments[places], kind="stable")]
    again = np.diff(every.moments[order]) == 0
    tied = np.zeros(len(order), dtype=bool)
    tied[1:] = again
    tied[:-1] |= again
    moments, keys = every.moments[order[tied]].tolist(), [ids[at] for at in order[tied].tolist()]
    del ids  # a million need a tenth of what all is to need
    ranks = sorted(range(len(keys)), key=lambda rank: (moments[rank], keys[rank]))
    order[tied] = order[tied][ranks]
    attempts = every.take(order)
    kept = tuple(one for own, one in dismissals.items() if own not in voided)
    return attempts, kept, problems


def content(attempt: Attempt, timed: bool = False) -> Attempt:
    """What an attempt says, by which equal ones are known: not its id, area or import, nor its time
    of day unless `timed`.
    """
    at = attempt.at if timed else datetime.combine(attempt.day, time())
    return replace(attempt, id=AttemptId(""), at=at, area=NO_AREA, concept="", batch="")


def voided_ids(voids: Sequence[Void]) -> set[str]:
    """Ids taken back. A void is itself taken back by its own id or that of its import."""
    against: dict[str, list[Void]] = {}
    for void in voids:
        against.setdefault(void.voids, []).append(void)
    holds: dict[int, bool] = {}
    begun: set[int] = set()
    waiting = [*voids]  # each behind the one it takes back: undone and redone a thousand times
    while waiting:
        last = waiting[-1]
        named = against.get(last.id, []) + (against.get(last.batch, []) if last.batch else [])
        others = [other for other in named if other is not last]
        unknown = [other for other in others if id(other) not in holds]
        if id(last) not in holds and unknown:
            holds[id(last)] = False  # ends a circle, which no command makes
            begun.add(id(last))
            waiting += unknown
            continue
        if id(last) not in holds or id(last) in begun:
            holds[id(last)] = not any(holds[id(other)] for other in others)
            begun.discard(id(last))
        waiting.pop()
    return {void.voids for void in voids if void.voids and holds[id(void)]}
